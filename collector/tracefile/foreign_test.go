package tracefile

import (
	"errors"
	"io"
	"math"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// TestForeignForms: separators, decimal signs, times and units as other programs and
// spreadsheets write them give the same trace as the contract's form.
func TestForeignForms(t *testing.T) {
	want := read(t, "time [s],package power [W],die temperature [degC]\n0,5.5,41\n1.5,,42.25\n")
	for name, text := range map[string]string{
		"semicolons, decimal commas":  "time [s];package power [W];die temperature [degC]\n0;5,5;41\n1,5;;42,25\n",
		"semicolons, decimal points":  "time [s];package power [W];die temperature [degC]\n0;5.5;41\n1.5;;42.25\n",
		"tabs":                        "time [s]\tpackage power [W]\tdie temperature [degC]\n0\t5.5\t41\n1.5\t\t42.25\n",
		"round brackets":              "Time (s),package power (W),die temperature (°C)\n0,5.5,41\n1.5,N/A,42.25\n",
		"unit after the name":         "Time s,package power W,die temperature Celsius\n0,5.5,41\n1.5,-,42.25\n",
		"unit after a comma":          "\"time, s\";\"package power, mW\";\"die temperature, °F\"\n0;5500;105,8\n1,5;null;108,05\n",
		"no units":                    "time,package power,die temperature\n0,5.5,41\n1.5,,42.25\n",
		"time elsewhere":              "package power [W],elapsed [ms],die temperature [degC]\n5.5,2000,41\n,3500,42.25\n",
		"trailing separators":         "time [s];package power [W];die temperature [degC];\n0;5,5;41;\n1,5;;42,25\n",
		"time of day, over midnight":  "Time,package power [W],die temperature [degC]\n23:59:59,5.5,41\n00:00:00.5,,42.25\n",
		"date and time":               "Timestamp;package power [W];die temperature [degC]\n01.03.2026 20:15:00,000;5,5;41\n01.03.2026 20:15:01,500;;42,25\n",
		"date beside time":            "Date,Time,package power [W],die temperature [degC]\n2026-03-01,20:15:00,5.5,41\n2026-03-01,20:15:01.5,,42.25\n",
		"slashes that leave no doubt": "DateTime,package power [W],die temperature [degC]\n13/3/2026 8:15:00 PM,5.5,41\n13/3/2026 8:15:01.5 PM,,42.25\n",
		"since 1970, ms":              "timestamp,package power [W],die temperature [degC]\n1772396100000,5.5,41\n1772396101500,,42.25\n",
		"energy unit words":           "t [sec],package power [watts],die temperature [deg C]\n0,5.5,41\n1.5,,42.25\n",
	} {
		got, err := Read(strings.NewReader(text), Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !slices.Equal(got.Time, want.Time) || len(got.Channels) != 2 {
			t.Errorf("%s: time %v, channels %+v", name, got.Time, got.Channels)
			continue
		}
		for i, c := range got.Channels {
			w := want.Channels[i]
			if c.Name != w.Name || c.Quantity != w.Quantity || c.Role != w.Role || !near(got.Values[i], want.Values[i]) {
				t.Errorf("%s: %q %v %q %v, not %q %v", name, c.Name, c.Quantity, c.Role, got.Values[i], w.Name, want.Values[i])
			}
		}
	}
}

func near(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Abs(x-y) < 1e-9 || math.IsNaN(x) && math.IsNaN(y) })
}

// TestStartOfForeignTimes: RFC 3339 tells the zone, a plain date takes the one given.
func TestStartOfForeignTimes(t *testing.T) {
	zone := time.FixedZone("bench", 3600)
	at := time.Date(2026, 3, 1, 20, 15, 0, 0, time.UTC)
	for text, want := range map[string]time.Time{
		"2026-03-01T20:15:00Z": at, "2026-03-01T21:15:00+01:00": at, "2026-03-01 21:15:00": at, "1.3.2026 21:15:00": at,
		"1772396100": at, "1772396100000": at, "20:15:00": {}, "12.5": {},
	} {
		got, err := Read(strings.NewReader("time,x [W]\n"+text+",1\n"), Options{Zone: zone})
		if err != nil || !got.Start.Equal(want) {
			t.Errorf("%s: %v, %v", text, got, err)
		}
	}
	for order, day := range map[DateOrder]int{DayFirst: 3, MonthFirst: 1} {
		got, err := Read(strings.NewReader("time,x [W]\n03/01/2026 20:15:00,1\n"), Options{Dates: order})
		if err != nil || got.Start.Day() != day {
			t.Errorf("order %d: %v, %v", order, got, err)
		}
	}
}

// TestGuessedUnits: what names alone suggest, told as a guess; a name that says nothing
// stays a plain number.
func TestGuessedUnits(t *testing.T) {
	rows, err := NewRows(strings.NewReader("time,CPU Temp,CPU Clock,GPU clock,Bus clock,Fan,Vcore,CPU Usage,Phase A,points,Note\n0,41,4.2,1500,100000,900,1.1,50,3,7,go\n"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	piece, err := rows.Next(10)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := rows.Next(10); err != io.EOF {
		t.Fatal(err)
	}
	head, err := rows.Head()
	if err != nil {
		t.Fatal(err)
	}
	want := []struct {
		kind  quantity.Kind
		value float64
	}{{quantity.Temperature, 41}, {quantity.Frequency, 4200}, {quantity.Frequency, 1500}, {quantity.Frequency, 100}, {quantity.Rotation, 900},
		{quantity.Potential, 1.1}, {quantity.Share, 50}, {quantity.Unknown, 3}, {quantity.Unknown, 7}, {quantity.Label, 0}}
	for i, w := range want {
		if c := head.Channels[i]; c.Quantity != w.kind || math.Abs(piece.Values[i][0]-w.value) > 1e-9 {
			t.Errorf("%s is %v %v, not %v %v", c.Name, c.Quantity, piece.Values[i][0], w.kind, w.value)
		}
	}
	if g := rows.Guesses(); len(g) != 7 || g[1] != `"CPU Clock" says no unit: read as frequency, in GHz` {
		t.Errorf("guesses %q", g)
	}
}

// TestMapping: columns renamed, left out, taken as the time, by name or number; the same
// header has the same signature, another has another.
func TestMapping(t *testing.T) {
	text := "when,Pkg,Pkg,junk\n0,5500,7,x\n100,6000,7,y\n"
	list := []Assignment{{"WHEN", "time [ms]"}, {"#2", "package power [mW]"}, {"#3", "points []"}, {"junk", LeftOut}}
	asked := ""
	recall := func(signature string) []Assignment { asked = signature; return list }
	for _, o := range []Options{{Map: list}, {Recall: recall}} {
		got, err := Read(strings.NewReader(text), o)
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Channels) != 2 || got.Channels[0].Role != telemetry.RolePower || !near(got.Values[0], []float64{5.5, 6}) || !near(got.Time, []float64{0, 0.1}) {
			t.Errorf("%+v", got)
		}
	}
	rows, err := NewRows(strings.NewReader(text), Options{Map: list})
	if err != nil || rows.Signature() != asked || len(asked) != 64 {
		t.Errorf("signature %q, asked %q, %v", rows.Signature(), asked, err)
	}
	other, err := NewRows(strings.NewReader(strings.ReplaceAll(text, "junk", "other")), Options{Map: list[:3]})
	if err != nil || other.Signature() == asked {
		t.Errorf("another header has the same signature, %v", err)
	}
	for want, bad := range map[string][]Assignment{
		"fits no column":         {{"nothing", "x [W]"}},
		"fits columns 2 and 3":   {{"Pkg", "x [W]"}},
		"a unit that is known":   {{"when", "time [ms]"}, {"#2", "x [hp]"}},
		"each channel's name":    {{"when", "time [ms]"}},
		"a column of time":       {{"#2", "x [W]"}},
		"trace: the mapping of ": {{"#9", "x [W]"}},
	} {
		if _, err := Read(strings.NewReader(text), Options{Map: bad}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v, not %q", bad, err, want)
		}
	}
	for _, bad := range []string{"", "a", "=b", "a="} {
		if _, err := ParseAssignment(bad); err == nil {
			t.Errorf("assignment %q passed", bad)
		}
	}
}

// TestHeaderLine: what stands before the header is not read.
func TestHeaderLine(t *testing.T) {
	text := "A report, made \"today\nserial;5\n\ntime [s];p [W]\n0;5\n"
	got, err := Read(strings.NewReader(text), Options{HeaderLine: 4})
	if err != nil || len(got.Time) != 1 || got.Values[0][0] != 5 {
		t.Errorf("%+v, %v", got, err)
	}
	_, err = Read(strings.NewReader(text), Options{HeaderLine: 9})
	var place *Error
	if !errors.As(err, &place) {
		t.Errorf("%v", err)
	}
}

// TestRowsIsRead: pieces of any size put together are what Read gives.
func TestRowsIsRead(t *testing.T) {
	file, err := os.ReadFile("../../testdata/traces/accelerator-full-load.csv")
	if err != nil {
		t.Fatal(err)
	}
	counter := "# score: total = 15 [points], higher is better\ntime [s],package energy [mJ],stage\n1,1000,a\n2,6000,b\n2.5,6000,b\n3,11000,a\n4,500,c\n5,5500,c\n6,,c\n7,15500,c\n# mark: 3 x\n"
	for _, text := range []string{string(file), counter} {
		want := read(t, text)
		for _, most := range []int{1, 3, 600, 1 << 20} {
			if len(want.Time) > 1000 && most < 600 {
				continue
			}
			got := inPieces(t, text, most)
			for c := range got.Values {
				if !sameColumn(got.Values[c], want.Values[c]) || len(want.States) > c && !slices.Equal(got.States[c], want.States[c]) {
					t.Errorf("column %d differs in pieces of %d", c, most)
				}
			}
			got.Values, got.States = want.Values, want.States
			if !reflect.DeepEqual(got, want) {
				t.Errorf("pieces of %d give\n%+v, not\n%+v", most, got, want)
			}
		}
	}
}

func inPieces(t *testing.T, text string, most int) *telemetry.Trace {
	t.Helper()
	rows, err := NewRows(strings.NewReader(text), Options{})
	if err != nil {
		t.Fatal(err)
	}
	var all telemetry.Trace
	for {
		p, err := rows.Next(most)
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		all.Time = append(all.Time, p.Time...)
		if all.Values == nil {
			all.Values, all.States = make([][]float64, len(p.Values)), make([][]telemetry.State, len(p.Values))
		}
		for c := range p.Values {
			all.Values[c] = append(all.Values[c], p.Values[c]...)
			if p.States != nil {
				all.States[c] = append(all.States[c], p.States[c]...)
			}
		}
	}
	head, err := rows.Head()
	if err != nil {
		t.Fatal(err)
	}
	head.Time, head.Values, head.States = all.Time, all.Values, all.States
	return head
}
