package feed

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/source/sourcetest"
	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
)

// desk is a feed in a bubble of synthetic time, with a sender in the test's hand.
type desk struct {
	*Source
	t    *testing.T
	send chan string // lines; closed connections are ""
	read telemetry.Reader
	keys []string
	out  []telemetry.Reading
	at   time.Duration
}

// pipe gives what is sent until "" ends the connection.
type pipe struct {
	d    *desk
	ctx  context.Context
	rest string
}

func (p *pipe) Read(b []byte) (int, error) {
	if p.rest == "" {
		select {
		case p.rest = <-p.d.send:
		case <-p.ctx.Done():
		}
		if p.rest == "" {
			return 0, io.EOF
		}
	}
	n := copy(b, p.rest)
	p.rest = p.rest[n:]
	return n, nil
}

func (p *pipe) Close() error { return nil }

func newDesk(t *testing.T) *desk {
	d := &desk{t: t, send: make(chan string)}
	way := way{title: "desk", waiting: "nothing yet", dial: func(ctx context.Context) (io.ReadCloser, error) {
		return &pipe{d: d, ctx: ctx}, nil
	}}
	d.Source = newSource(Config{Name: "feed", Guess: tracefile.GuessRole}.filled(), way)
	go d.run(t.Context())
	return d
}

// says sends lines, a period after the ones before.
func (d *desk) says(lines ...string) {
	for _, l := range lines {
		d.send <- l + "\n"
	}
	synctest.Wait()
}

// open opens the source and reads it from now on.
func (d *desk) open() telemetry.Inventory {
	inv := d.Open(d.t.Context())
	if len(inv.Groups) != 1 {
		d.t.Fatalf("%+v", inv)
	}
	d.read, d.keys, d.out = inv.Groups[0].Reader, nil, make([]telemetry.Reading, len(inv.Groups[0].Channels))
	for _, c := range inv.Groups[0].Channels {
		d.keys = append(d.keys, c.Key)
	}
	return inv
}

// tick waits for a period and reads.
func (d *desk) tick() []telemetry.Reading { return d.after(100 * time.Millisecond) }

func (d *desk) after(span time.Duration) []telemetry.Reading {
	time.Sleep(span)
	d.at += span
	clear(d.out)
	d.read.Read(d.at, d.out)
	return d.out
}

// want checks the newest reading of the first channel.
func (d *desk) want(what string, value float64, state telemetry.State) {
	d.t.Helper()
	if r := d.out[0]; r.State != state || state.Usable() && math.Abs(r.Value-value) > 1e-6 || !state.Usable() && !math.IsNaN(r.Value) {
		d.t.Errorf("%s: %v in state %d (%s), want %v in %d", what, r.Value, r.State, r.State.Reason(), value, state)
	}
}

func (d *desk) wantMarks(texts ...string) {
	d.t.Helper()
	marks := d.Marks()
	ok := len(marks) == len(texts)
	for i := 0; ok && i < len(texts); i++ {
		ok = strings.Contains(marks[i].Text, texts[i]) && marks[i].Kind == telemetry.MarkMachine
	}
	if !ok {
		d.t.Errorf("marks %+v, want %q", marks, texts)
	}
}

// inTime runs a test with a desk in synthetic time.
func inTime(t *testing.T, f func(d *desk)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) { f(newDesk(t)) })
}

func TestFreshHeldStale(t *testing.T) {
	inTime(t, func(d *desk) {
		d.says("flow 1.2 L/min")
		inv := d.open()
		if c := inv.Groups[0].Channels[0]; c.Key != "feed/flow" || c.Quantity != quantity.Flow || c.Source != "feed" || c.Device != "desk" {
			t.Errorf("%+v", c)
		}
		d.tick()
		d.want("the first reading", 1.2, telemetry.Fresh)
		d.tick()
		d.want("no other since", 1.2, telemetry.Held)
		d.says("flow 1.2 L/min")
		d.tick()
		d.want("the same value anew", 1.2, telemetry.Fresh)
		d.after(4800 * time.Millisecond)
		d.want("4.9 s later", 1.2, telemetry.Held)
		d.wantMarks()
		d.after(300 * time.Millisecond)
		d.want("5.2 s later", 0, telemetry.GapStale)
		d.wantMarks("desk went silent: nothing for 5 s")
		d.tick()
		d.wantMarks()
		d.says("flow 1.3 L/min")
		d.tick()
		d.want("back", 1.3, telemetry.Fresh)
		d.wantMarks("desk is back")
	})
}

// TestSenderSaysHowLong: stale and interval of the hello line.
func TestSenderSaysHowLong(t *testing.T) {
	for hello, stands := range map[string]time.Duration{"hello stale=1": time.Second, "hello interval=4": 12 * time.Second, "hello interval=0.5": 5 * time.Second} {
		inTime(t, func(d *desk) {
			d.says(hello, "flow 1.2 L/min")
			inv := d.open()
			if strings.Contains(hello, "interval=4") && inv.Groups[0].Channels[0].Refresh != 4*time.Second {
				t.Errorf("renewed every %v", inv.Groups[0].Channels[0].Refresh)
			}
			d.says("flow 1.2 L/min")
			d.after(stands - 10*time.Millisecond)
			d.want(hello, 1.2, telemetry.Fresh)
			d.after(20 * time.Millisecond)
			d.want(hello, 0, telemetry.GapStale)
		})
	}
}

// TestAge: a reading that was old when it was sent is old when it comes.
func TestAge(t *testing.T) {
	inTime(t, func(d *desk) {
		d.says("flow 1.2 L/min age=4.5")
		d.open()
		d.says("flow 1.2 L/min age=4.5")
		d.tick()
		d.want("4.6 s old", 1.2, telemetry.Fresh)
		d.after(time.Second)
		d.want("5.6 s old", 0, telemetry.GapStale)
	})
}

// TestQualities: what the sender says of a reading is why there is none.
func TestQualities(t *testing.T) {
	inTime(t, func(d *desk) {
		d.says("flow 1.2 L/min")
		d.open()
		for text, state := range qualities {
			d.says("flow 1.5 L/min quality=" + text)
			d.tick()
			d.want(text, 1.5, state)
		}
		d.says("flow - L/min")
		d.tick()
		d.want("no value", 0, telemetry.GapNotReady)
	})
}

// TestRubbish: what broken instruments give is a gap; what only looks odd stays.
func TestRubbish(t *testing.T) {
	for _, c := range []struct {
		line string
		ok   bool
	}{
		{"t 127 degC", false}, {"t 128 degC", false}, {"t -127 degC", false}, {"t -128 degC", false}, {"t 0 K", false}, {"t 65535 degC", false},
		{"t 65261.85 degC", false}, {"t 85 degC", false}, {"die 0 degC", false}, {"fan 65535 rpm", false}, {"fan -1 rpm", false}, {"flow 1e99 L/min", false},
		{"load 255 %", false}, {"t 1e300 degC", false}, {"clock 1e307 GHz", false},
		{"t 0 degC", true}, {"t 126.5 degC", true}, {"t 84.9 degC", true}, {"fan 0 rpm", true}, {"load 100 %", true},
	} {
		inTime(t, func(d *desk) {
			d.says(c.line)
			d.open()
			d.tick()
			if got := d.out[0].State == telemetry.Fresh; got != c.ok || !got && d.out[0].State != telemetry.GapImplausible {
				t.Errorf("%s: %+v", c.line, d.out[0])
			}
		})
	}
	inTime(t, func(d *desk) { // a thermometer that warms up to its power-on code is right
		d.says("t 84.5 degC")
		d.open()
		d.says("t 85 degC")
		d.tick()
		d.want("a true 85 degC", 85, telemetry.Fresh)
	})
}

// TestEnergyBecomesPower: differences over the sender's own times, whatever the lines'
// way; the first, a restart and an unknown wrap are gaps; a known wrap is none.
func TestEnergyBecomesPower(t *testing.T) {
	inTime(t, func(d *desk) {
		d.says("e 100 J 50 wrap=1000")
		if c := d.open().Groups[0].Channels[0]; c.Quantity != quantity.Power {
			t.Errorf("measures %s", c.Quantity)
		}
		d.tick()
		d.want("the first", 0, telemetry.GapCounter)
		for _, s := range []struct {
			line  string
			value float64
			state telemetry.State
		}{
			{"e 114 J 50.5 wrap=1000", 28, telemetry.Fresh},
			{"e 980 J 81.428571428571431 wrap=1000", 28, telemetry.Fresh},
			{"e 8 J 82.428571428571431 wrap=1000", 28, telemetry.Fresh}, // 980 to 1000 and 8 more
			{"e 3 J 83 wrap=1000", 0, telemetry.GapCounter},             // began anew
			{"e 31 J 84 wrap=1000", 28, telemetry.Fresh},
			{"e 2 J 85", 0, telemetry.GapCounter},
			{"e 9e7 J 86", 0, telemetry.GapImplausible}, // 90 MW
		} {
			d.says(s.line)
			d.tick()
			d.want(s.line, s.value, s.state)
		}
	})
}

// TestEvents: a counter of events that wraps goes on; one that restarts is a gap once.
func TestEvents(t *testing.T) {
	inTime(t, func(d *desk) {
		d.says("hits 250 1 kind=counter wrap=256")
		d.open()
		for _, s := range []struct {
			line  string
			value float64
			state telemetry.State
		}{{"hits 255 1 kind=counter wrap=256", 255, telemetry.Fresh}, {"hits 3 1 kind=counter wrap=256", 259, telemetry.Fresh},
			{"hits 2 1 kind=counter wrap=256", 0, telemetry.GapCounter}, {"hits 3 1 kind=counter wrap=256", 3, telemetry.Fresh}} {
			d.says(s.line)
			d.tick()
			d.want(s.line, s.value, s.state)
		}
	})
}

// TestOrder: late and repeated readings are dropped, holes counted, a restart is none.
func TestOrder(t *testing.T) {
	inTime(t, func(d *desk) {
		d.says("f 1 W 10 seq=1")
		d.open()
		for _, s := range []struct {
			line  string
			value float64
			fresh bool
		}{
			{"f 2 W 10.1 seq=2", 2, true},
			{"f 5 W 10.4 seq=5", 5, true}, // two lost
			{"f 4 W 10.3 seq=4", 5, false},
			{"f 5 W 10.4 seq=5", 5, false},
			{"f 6 W 10.5", 6, true},
			{"f 6 W 10.5", 6, false}, // the same time again: nothing new
			{"f 1 W 10.6 seq=1", 1, true},
			{"f 2 W 10.7 seq=2", 2, true},
		} {
			d.says(s.line)
			d.tick()
			d.want(s.line, s.value, map[bool]telemetry.State{true: telemetry.Fresh, false: telemetry.Held}[s.fresh])
		}
		if c := d.Report().Channels[0]; c.Lost != 2 || c.Late != 1 || c.Repeated != 2 || c.Readings != 6 {
			t.Errorf("%+v", c)
		}
		d.says("g 1 W seq=100", "g 2 W seq=99", "g 3 W seq=101", "g 4 W seq=1", "hello", "g 5 W seq=1") // without times
		if c := d.Report().Channels[1]; c.Late != 1 || c.Value != 5 || c.Lost != 0 {
			t.Errorf("%+v", c)
		}
	})
}

// TestClock: the offset is that of the reading least held up; held-up readings are known
// to be old; a clock that jumps is noted and followed.
func TestClock(t *testing.T) {
	inTime(t, func(d *desk) {
		d.says("f 1 W 4999.5") // half a second on its way
		d.open()
		theirs := func() float64 { return 5000 + time.Since(d.base).Seconds() }
		for i := range 100 {
			d.tick()
			d.says(fmt.Sprintf("f %d W %.3f", i, theirs()-0.01*float64(i%7)-0.02)) // 20 to 80 ms on the way
		}
		if r := d.Report(); math.Abs(r.OffsetS+4999.98) > 1e-6 || math.Abs(r.Channels[0].DelayS-0.06) > 1e-3 {
			t.Errorf("offset %v, want -4999.98; longest delay %v, want 0.06", r.OffsetS, r.Channels[0].DelayS)
		}
		from := theirs()
		d.after(4 * time.Second)
		d.says(fmt.Sprintf("f 7 W %.3f", from+0.1)) // held up for 3.9 s, and then 1.2 s more
		d.after(time.Second)
		d.want("measured 4.9 s ago", 7, telemetry.Fresh)
		d.after(200 * time.Millisecond)
		d.want("measured 5.1 s ago", 0, telemetry.GapStale)
		d.wantMarks()
		d.says(fmt.Sprintf("f 8 W %.3f", theirs()-3600))
		d.tick()
		d.want("an hour back", 8, telemetry.Fresh)
		d.wantMarks("its clock went back by 3595 s")
		d.says(fmt.Sprintf("f 9 W %.3f", theirs()+100))
		d.tick()
		d.want("forward", 9, telemetry.Fresh)
		d.wantMarks("its clock went forward by 3700 s")
	})
}

// A clock that runs 200 ppm slow moves the offset; after ten minutes it is not 120 ms
// behind but what half a minute makes of it.
func TestOffsetFollowsDrift(t *testing.T) {
	var o offset
	start := time.Now()
	for i := range 6000 {
		ours := float64(i) / 10
		o.add(ours*(1-200e-6), start.Add(time.Duration(i)*100*time.Millisecond), ours)
	}
	if want := 600 * 200e-6; math.Abs(o.value()-want) > 60*200e-6 {
		t.Errorf("offset %v, want %v", o.value(), want)
	}
}

// TestNewChannels: what is first seen while the feed runs asks for another opening.
func TestNewChannels(t *testing.T) {
	inTime(t, func(d *desk) {
		d.says("flow 1.2 L/min")
		d.open()
		select {
		case <-d.Changed():
			t.Error("what was offered asks for another opening")
		default:
		}
		d.says("flow 1.3 L/min", `"coolant in" 24 degC`)
		<-d.Changed()
		if d.open(); len(d.keys) != 2 || d.keys[0] != "feed/flow" || d.keys[1] != "feed/coolant in" {
			t.Errorf("keys %q", d.keys)
		}
		d.says("speed 1 furlong")
		<-d.Changed()
		inv := d.open()
		if len(inv.Missing) != 1 || !strings.Contains(inv.Missing[0].Reason, `unit "furlong" is not known`) {
			t.Errorf("missing %+v", inv.Missing)
		}
		for i := range 100 {
			d.says(fmt.Sprintf("n%d 1 W", i))
		}
		if r := d.Report(); len(r.Channels) != maxChannels || len(r.Refusals) != mostRefusals || r.Refusals[0].Count != 1 || r.Lines != 104 {
			t.Errorf("%d channels, %d refusals, %d lines", len(r.Channels), len(r.Refusals), r.Lines)
		}
	})
}

// TestNothingComes: without a reading the source is not running, says why, and does not
// hold up the others for long.
func TestNothingComes(t *testing.T) {
	inTime(t, func(d *desk) {
		began := time.Now()
		inv := d.Open(d.t.Context())
		if took := time.Since(began); took != 2*time.Second {
			t.Errorf("waited %v", took)
		}
		if inv.Status != telemetry.Failed || !strings.Contains(inv.Reason, "nothing yet") || len(inv.Missing) != 1 {
			t.Errorf("%+v", inv)
		}
	})
}

// TestReconnect: lost contact is made anew after 1, 2, 4 s, and after 1 s again when
// there were readings; numbers begin anew.
func TestReconnect(t *testing.T) {
	inTime(t, func(d *desk) {
		d.says("f 1 W seq=40")
		d.open()
		began := time.Now()
		for _, pause := range []time.Duration{time.Second, 2 * time.Second, 4 * time.Second} {
			d.send <- "" // ends the connection
			synctest.Wait()
			began = began.Add(pause)
			d.send <- "x\n" // refused: no reading
			if now := time.Now(); !now.Equal(began) {
				t.Errorf("contact at %v, want %v", now, began)
			}
			synctest.Wait()
		}
		if trouble := d.Report().Trouble; trouble != "the sender has ended" {
			t.Errorf("trouble %q", trouble)
		}
		d.says("f 2 W seq=3")
		d.tick()
		d.want("numbered anew", 2, telemetry.Fresh)
		if r := d.Report(); r.Trouble != "" || r.Channels[0].Lost != 0 || r.Channels[0].Late != 0 {
			t.Errorf("%+v", r)
		}
	})
}

// TestBrokenLines: half lines, long lines and rubbish are counted and do no harm.
func TestBrokenLines(t *testing.T) {
	inTime(t, func(d *desk) {
		d.send <- "f 1 W\nf 2 W\r\n\n# comment\n" + strings.Repeat("x", 5000) + "\nf 3 W\n\x00\xff\n"
		d.send <- "f 4"
		d.send <- "4 W\nf 5"
		d.send <- ""
		synctest.Wait()
		d.open()
		d.tick()
		d.want("the last whole line", 44, telemetry.Fresh)
		var reasons []string
		for _, r := range d.Report().Refusals {
			reasons = append(reasons, fmt.Sprint(r.Count, " ", r.Reason))
		}
		if got := strings.Join(reasons, "; "); got != "1 the line is longer than 1024 bytes; 1 the line is not UTF-8; 1 the line broke off before its end" {
			t.Error(got)
		}
	})
}

// TestSleep: after a sleep of this machine nothing measured before it is shown.
func TestSleep(t *testing.T) {
	inTime(t, func(d *desk) {
		d.says("f 1 W 10")
		d.open()
		d.tick()
		d.read.(interface{ Resumed() }).Resumed()
		d.tick()
		d.want("from before the sleep", 0, telemetry.GapStale)
		d.says("f 2 W 3000")
		d.tick()
		d.want("after it", 2, telemetry.Fresh)
		d.wantMarks()
	})
}

// TestRoles: by name, as a trace file has them; what leaves the loop is no reference,
// what a line says counts most, and the machine's own sensors keep their roles.
func TestRoles(t *testing.T) {
	inTime(t, func(d *desk) {
		d.says(`"coolant out" 30 degC`, `"coolant in" 24 degC`, `"room air" 22 degC`, `pump 2400 rpm`, `"rear fan" 900 rpm`, `wall 61 W`,
			`"cpu die" 50 degC`, `probe 21 degC role=ambient`)
		inv := d.open()
		want := map[string]telemetry.Role{"coolant in": telemetry.RoleAmbient, "room air": telemetry.RoleAmbient, "rear fan": telemetry.RoleFan,
			"cpu die": telemetry.RoleDie, "probe": telemetry.RoleAmbient}
		own := []telemetry.Channel{{Key: "hwmon/tctl", Name: "Tctl", Quantity: quantity.Temperature, Role: telemetry.RoleDie, Rank: 1},
			{Key: "hwmon/in", Name: "inlet", Quantity: quantity.Temperature, Role: telemetry.RoleAmbient, Rank: 100}}
		for _, c := range inv.Groups[0].Channels {
			if c.Role != want[c.Name] {
				t.Errorf("%s is %q, want %q", c.Name, c.Role, want[c.Name])
			}
			own = append(own, c)
		}
		all, err := telemetry.Resolve(own, nil)
		if err != nil {
			t.Fatal(err)
		}
		if die, ambient := telemetry.IndexOf(all, telemetry.RoleDie), telemetry.IndexOf(all, telemetry.RoleAmbient); die != 0 || all[ambient].Name != "probe" {
			t.Errorf("die %v, ambient %v", all[die].Name, all[ambient].Name)
		}
		rest, _ := telemetry.Resolve(own[:len(own)-1], nil)
		if i := telemetry.IndexOf(rest, telemetry.RoleAmbient); rest[i].Name != "room air" {
			t.Errorf("ambient is %q", rest[i].Name)
		}
	})
}

// TestContract holds the source to what every source must do.
func TestContract(t *testing.T) {
	sourcetest.Check(t, func() telemetry.Source {
		s, err := New(t.Context(), "push:", Config{Guess: tracefile.GuessRole, Wait: 8 * time.Millisecond})
		if err != nil {
			t.Fatal(err)
		}
		if n, refused, err := s.Push(strings.NewReader("\"coolant in\" 24 degC 3.5\nflow 1.2 L/min\nwall - W\ne 5 J 4\n")); n != 4 || err != nil {
			t.Fatal(n, refused, err)
		}
		return s
	})
}

func TestPush(t *testing.T) {
	s, err := New(t.Context(), "push:", Config{})
	if err != nil {
		t.Fatal(err)
	}
	n, refused, err := s.Push(strings.NewReader("flow 1.2 L/min\nspeed 1 furlong\n\nflow 1.3 L/min"))
	if n != 3 || len(refused) != 1 || refused[0].Line != 2 || err != nil {
		t.Errorf("%d taken, %+v, %v", n, refused, err)
	}
	if _, _, err := s.Push(strings.NewReader(strings.Repeat("x", 3000))); !errors.Is(err, errLong) {
		t.Error(err)
	}
	if v := s.Report().Channels[0].Value; v != 1.3 {
		t.Errorf("value %v", v)
	}
}
