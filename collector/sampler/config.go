package sampler

import (
	"log/slog"
	"time"

	"soakline/collector/telemetry"
)

// Config steers a Sampler. The zero value of a field takes the default beside it.
type Config struct {
	Period time.Duration             // between ticks, 100 ms
	Clock  Clock                     // Real()
	Log    *slog.Logger              // silent
	Roles  map[telemetry.Role]string // overrides for telemetry.Resolve

	// SlowRead is what a read of a fast group may take, 5 ms: SMBus and embedded
	// controllers take longer than that, a register or a cached value takes
	// microseconds (Linux, drivers/hwmon/dell-smm-hwmon.c gives 11 ms a temperature).
	SlowRead time.Duration
	// SlowPace is the shortest time between two reads of a group that turned out to be
	// slow or that says that it is and names no pace of its own, 1 s.
	SlowPace time.Duration
	// Reopen is the shortest time between two looks for a device that went, 5 s; it
	// doubles up to six times that while the device stays away.
	Reopen time.Duration
	// OpenLimit is how long the start waits for a source, 5 s. One that comes later
	// adds its channels then.
	OpenLimit time.Duration
}

func (c Config) filled() Config {
	or := func(d *time.Duration, fallback time.Duration) {
		if *d <= 0 {
			*d = fallback
		}
	}
	or(&c.Period, 100*time.Millisecond)
	or(&c.SlowRead, 5*time.Millisecond)
	or(&c.SlowPace, time.Second)
	or(&c.Reopen, 5*time.Second)
	or(&c.OpenLimit, 5*time.Second)
	if c.Clock == nil {
		c.Clock = Real()
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	return c
}

// Sink takes what the sampler finds. Calls come one after the other,
// but not always from the same goroutine.
type Sink interface {
	// Publish takes the next row; its slices are used again for the row after it.
	Publish(telemetry.Row)
	// AddChannels announces channels that the rows from now on have behind the others.
	AddChannels([]telemetry.Channel)
	SetMissing([]telemetry.Missing)
	SetSetting(key, value string) error
	Mark(telemetry.Mark) telemetry.Mark
}

// Resumer is a Reader that wants to know that the machine slept, to throw away what it
// remembers of the time before. Sources without it are opened anew after a sleep.
type Resumer interface{ Resumed() }

// Ender is a Source that has an end, a replay for instance. The sampler asks after each
// reading, before the row is published, and stops when it is over.
type Ender interface{ Ended() bool }

// Changer is a Source whose channels or conditions change while it runs. A value on the
// channel has it opened anew at once; its readers stay until then.
type Changer interface{ Changed() <-chan struct{} }

// Marker is a Source that has marks of its own, asked for after each row. Their time is
// on the clock that Read is given, in s; the sampler moves it to the session's. Marks
// must not wait for anything.
type Marker interface{ Marks() []telemetry.Mark }
