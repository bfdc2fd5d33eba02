package sampler

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"soakline/collector/telemetry"
)

// lookForGone has sources of which a device went look again, not too often.
func (s *Sampler) lookForGone(ctx context.Context, now time.Duration) {
	for _, src := range s.sources {
		if c, ok := src.src.(Changer); ok && !src.opening {
			select {
			case <-c.Changed():
				src.renew, src.next = true, now
			default:
			}
		}
		if !(src.gone || src.renew) || src.opening || now < src.next {
			continue
		}
		src.wait = min(max(2*src.wait, s.cfg.Reopen), 6*s.cfg.Reopen)
		src.next = now + src.wait
		s.open(ctx, src)
	}
}

// adopt takes the inventories that came since the last tick.
func (s *Sampler) adopt() {
	for {
		select {
		case o := <-s.opened:
			s.replace(o.from, o.inv)
		default:
			return
		}
	}
}

// replace takes an inventory if it brings back a channel that is away or a new one; else
// the readers at work stay, and keep what they remember.
func (s *Sampler) replace(src *source, inv telemetry.Inventory) {
	if !src.renew && !s.brings(src, inv) {
		src.opening = false
		for _, g := range inv.Groups {
			go (&group{name: g.Name, from: src, reader: g.Reader}).close(s.cfg.Log)
		}
		return
	}
	added := s.take(src, inv)
	if !src.gone {
		src.wait = 0
	}
	s.cfg.Log.Info("a source was opened anew", "source", src.name, "status", src.status.String(), "new channels", len(added))
	if len(added) > 0 {
		added = s.rolesOf(added)
		s.channels = append(s.channels, added...)
		s.sink.AddChannels(slices.Clone(added))
	}
	s.sink.SetMissing(s.missing())
	for _, c := range inv.Conditions {
		if err := s.sink.SetSetting(c.Key, c.Value); err != nil {
			s.cfg.Log.Warn("a condition was refused", "key", c.Key, "error", err)
		}
	}
}

// brings says whether inv has a channel that gives nothing now.
func (s *Sampler) brings(src *source, inv telemetry.Inventory) bool {
	alive := map[string]bool{}
	for _, k := range src.keys {
		alive[k] = false
	}
	for _, g := range src.groups {
		for i, col := range g.columns {
			if col >= 0 && g.last[i].State != telemetry.GapGone {
				alive[g.keys[i]] = true
			}
		}
	}
	for _, g := range inv.Groups {
		for _, c := range g.Channels {
			if !alive[c.Key] {
				return true
			}
		}
	}
	return false
}

// rolesOf leaves a late channel its role only where no other channel may hold it already.
func (s *Sampler) rolesOf(added []telemetry.Channel) []telemetry.Channel {
	both, err := telemetry.Resolve(slices.Concat(s.channels, added), nil)
	if err != nil {
		return added
	}
	late := both[len(s.channels):]
	for i, c := range late {
		if c.Role != telemetry.RoleCore && c.Role != telemetry.RoleFan && telemetry.IndexOf(s.channels, c.Role) >= 0 {
			late[i].Role = telemetry.RoleNone
		}
	}
	return late
}

// woke marks a sleep of the machine: one row of gaps, a note, and readers that forget
// what they remember, because counters and limits may have changed meanwhile. Those that
// cannot be told are not read until they were opened anew, or that takes too long.
func (s *Sampler) woke(ctx context.Context, now, deadline, asleep time.Duration) {
	for c := range s.values {
		s.values[c], s.states[c] = math.NaN(), telemetry.GapSuspended
	}
	s.publish(now, deadline)
	s.note(now, fmt.Sprintf("the machine was suspended for %s", inWords(asleep)))
	for _, src := range s.sources {
		for _, g := range src.groups {
			g.wake(now)
			if _, ok := g.reader.(Resumer); !ok {
				src.renew, src.next, src.pause = true, now, now+s.cfg.OpenLimit
			}
		}
	}
	s.lookForGone(ctx, now)
}

// stalled marks a stretch without samples that no known sleep explains.
func (s *Sampler) stalled(now time.Duration, skipped int64) {
	if skipped <= 0 {
		return
	}
	s.tally.skip(skipped)
	if gap := time.Duration(skipped) * s.cfg.Period; gap >= max(10*s.cfg.Period, 2*time.Second) {
		s.note(now, fmt.Sprintf("no samples for %s: the machine was busy, stopped or asleep", inWords(gap)))
	}
}

// takeMarks passes on the marks that sources have of their own.
func (s *Sampler) takeMarks() {
	for _, src := range s.sources {
		if m, ok := src.src.(Marker); ok {
			for _, mark := range m.Marks() {
				mark.At = max(mark.At-s.first.Seconds(), 0)
				s.sink.Mark(mark)
			}
		}
	}
}

func (s *Sampler) note(now time.Duration, text string) {
	s.cfg.Log.Warn(text)
	s.sink.Mark(telemetry.Mark{At: (now - s.first).Seconds(), Kind: telemetry.MarkMachine, Text: text})
}

func inWords(d time.Duration) string {
	if d < 2*time.Minute {
		return fmt.Sprintf("%.0f s", d.Seconds())
	}
	return d.Round(time.Second).String()
}
