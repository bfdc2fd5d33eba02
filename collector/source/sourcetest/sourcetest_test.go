package sourcetest

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"runtime"
	"strings"
	"testing"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// memory remembers what a check reports.
type memory struct{ said []string }

func (m *memory) Helper() {}
func (m *memory) Errorf(format string, args ...any) {
	m.said = append(m.said, fmt.Sprintf(format, args...))
}

// fake is a source of one temperature that a test spoils.
type fake struct {
	inventory telemetry.Inventory
	read      func(out []telemetry.Reading)
	close     func() error
}

func (f *fake) Name() string                             { return "fake" }
func (f *fake) Open(context.Context) telemetry.Inventory { return f.inventory }
func (f *fake) Read(_ time.Duration, out []telemetry.Reading) {
	f.read(out)
}
func (f *fake) Close() error { return f.close() }

func sound() *fake {
	f := &fake{
		read:  func(out []telemetry.Reading) { out[0] = telemetry.Reading{Value: 40, State: telemetry.Fresh} },
		close: func() error { return nil },
	}
	f.inventory.Groups = []telemetry.Group{{Name: "g", Reader: f, Channels: []telemetry.Channel{{Key: "fake/t", Name: "t",
		Quantity: quantity.Temperature, Role: telemetry.RoleDie, Source: "fake", Device: "d"}}}}
	return f
}

func run(f *fake) []string {
	var m memory
	check(&m, func() telemetry.Source { return f })
	return m.said
}

func TestSoundSourcePasses(t *testing.T) {
	if said := run(sound()); len(said) > 0 {
		t.Errorf("a sound source is reported: %q", said)
	}
}

var sink []byte

// Each breach of the contract is reported, in words that name it.
func TestEachBreachIsReported(t *testing.T) {
	opened := 0
	for words, spoil := range map[string]func(f *fake){
		"without key":      func(f *fake) { f.inventory.Groups[0].Channels[0].Key = "" },
		"stands twice":     func(f *fake) { f.inventory.Groups = append(f.inventory.Groups, f.inventory.Groups[0]) },
		"source \"other\"": func(f *fake) { f.inventory.Groups[0].Channels[0].Source = "other" },
		"measures":         func(f *fake) { f.inventory.Groups[0].Channels[0].Role = telemetry.RolePower },
		"unknown":          func(f *fake) { f.inventory.Groups[0].Channels[0].Quantity = quantity.Unknown },
		"with 0 labels":    func(f *fake) { f.inventory.Groups[0].Channels[0].Quantity = quantity.Label },
		"has a reason":     func(f *fake) { f.inventory.Status = telemetry.NotHere },
		"yet with":         func(f *fake) { f.inventory.Reason = "why" },
		"missing channel":  func(f *fake) { f.inventory.Missing = []telemetry.Missing{{Name: "x", Source: "fake"}} },
		"condition":        func(f *fake) { f.inventory.Conditions = []telemetry.Setting{{Key: "k"}} },
		"untouched":        func(f *fake) { f.read = func([]telemetry.Reading) {} },
		"want NaN": func(f *fake) {
			f.read = func(out []telemetry.Reading) { out[0] = telemetry.Reading{State: telemetry.GapIO} }
		},
		"with the value": func(f *fake) {
			f.read = func(out []telemetry.Reading) { out[0] = telemetry.Reading{Value: math.Inf(1), State: telemetry.Fresh} }
		},
		"is not known": func(f *fake) {
			f.read = func(out []telemetry.Reading) { out[0] = telemetry.Reading{Value: math.NaN(), State: 200} }
		},
		"allocations": func(f *fake) {
			ok := f.read
			f.read = func(out []telemetry.Reading) { sink = make([]byte, 8); ok(out) }
		},
		"Close: full": func(f *fake) { f.close = func() error { return errors.New("full") } },
		"descriptors before": func(f *fake) {
			if runtime.GOOS != "linux" {
				f.close = func() error { return errors.New("descriptors before: not counted here") }
				return
			}
			f.read = func(out []telemetry.Reading) {
				out[0] = telemetry.Reading{Value: 40, State: telemetry.Fresh}
				if opened++; opened == 1 {
					file, err := os.Open(os.DevNull)
					if err == nil {
						t.Cleanup(func() { file.Close() })
					}
				}
			}
		},
		"the keys differ": func(f *fake) {
			n := 0
			f.read = func(out []telemetry.Reading) {
				n++
				f.inventory.Groups = []telemetry.Group{f.inventory.Groups[0]}
				f.inventory.Groups[0].Channels = []telemetry.Channel{f.inventory.Groups[0].Channels[0]}
				f.inventory.Groups[0].Channels[0].Key = fmt.Sprint("fake/", n)
				out[0] = telemetry.Reading{Value: 40, State: telemetry.Fresh}
			}
		},
	} {
		f := sound()
		spoil(f)
		if said := strings.Join(run(f), "\n"); !strings.Contains(said, words) {
			t.Errorf("a source spoiled in the way of %q is reported as: %q", words, said)
		}
	}
}
