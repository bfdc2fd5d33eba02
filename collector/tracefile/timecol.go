package tracefile

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"soakline/collector/quantity"
)

// DateOrder tells what comes first in a date written with slashes.
type DateOrder uint8

// The orders.
const (
	OrderUnknown DateOrder = iota
	DayFirst
	MonthFirst
)

// timeColumn is the column of time: seconds (or another unit of time), a time of day, or a
// date with one, decided by the first row.
type timeColumn struct {
	cell, date int // date is a column of its own beside the time of day, -1 if there is none
	scale      float64
	stated     bool // the unit was
	zone       *time.Location
	order      DateOrder

	decided bool
	layout  string // of a date; "" are plain numbers
	ofDay   bool   // h:m:s without a date
	days    float64
	start   time.Time // of the first row, where the file says
	first   float64   // the first row's time on the file's own clock
	last    float64
	n       int
	at      []float64
}

// layouts are the dates that leave no doubt. Seconds may have decimals after either sign.
var layouts = []string{time.RFC3339Nano, "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04:05", "2006-01-02T15:04:05", "2006/1/2 15:04:05", "2.1.2006 15:04:05", "20060102 150405", "20060102T150405"}

var slashed = map[DateOrder][]string{
	DayFirst:   {"2/1/2006 15:04:05", "2/1/2006 3:04:05 PM", "2-1-2006 15:04:05"},
	MonthFirst: {"1/2/2006 15:04:05", "1/2/2006 3:04:05 PM", "1-2-2006 15:04:05"},
}

// timeRank is how well a heading names the time; 0 is not at all.
func timeRank(h heading, place int) int {
	if h.stated && h.unit.Kind != quantity.Duration {
		return 0
	}
	rank := 0
	switch strings.ToLower(h.name) {
	case "time":
		rank = 100
	case "timestamp", "time stamp", "datetime", "date time", "date/time", "date and time", "date & time":
		rank = 90
	case "elapsed", "elapsed time", "time elapsed", "relative time":
		rank = 80
	case "t", "seconds", "sec", "secs", "milliseconds", "msec":
		rank = 60
	case "date":
		rank = 10
	}
	if rank == 0 && place == 0 && h.stated && wordsOf(h.name).any("time", "elapsed") {
		rank = 20
	}
	return rank
}

// findTime looks for the column of time, and that of the date beside it, among headers.
func findTime(heads []string, quoted func(int) bool) (cell, date int) {
	cell, date, best := -1, -1, 0
	for i, text := range heads {
		h, err := parseHeading(text, quoted(i))
		if err != nil {
			continue
		}
		if strings.EqualFold(h.name, "date") && date < 0 {
			date = i
		}
		if rank := timeRank(h, i); rank > best {
			cell, best = i, rank
		}
	}
	if date == cell || cell < 0 {
		date = -1
	}
	return cell, date
}

// head takes the columns that findTime gave.
func (c *timeColumn) head(text string, quoted bool, cell, date int) error {
	h, err := parseHeading(text, quoted)
	if err != nil {
		return err
	}
	c.cell, c.date, c.scale, c.stated = cell, date, 1, h.stated
	switch strings.ToLower(h.name) {
	case "milliseconds", "msec":
		c.scale = 1e-3
	}
	if h.stated {
		c.scale = h.unit.Scale()
		if c.date >= 0 {
			c.date = -1 // a time with a unit needs no date; the date is a column of text
		}
	}
	return nil
}

func (c *timeColumn) words() string {
	switch {
	case c.layout == time.RFC3339Nano:
		return "RFC 3339"
	case c.layout != "" || c.ofDay:
		return "the form of the rows above"
	}
	return "seconds"
}

func (c *timeColumn) add(r *records) error {
	at := r.cells[c.cell]
	text := string(at.text)
	if c.date >= 0 {
		text = string(r.cells[c.date].text) + " " + text
	}
	if !c.decided {
		if err := c.decide(r, text); err != nil {
			return r.fail(at.at, err.Error(), shown([]byte(text)))
		}
	}
	s, err := c.seconds(r, text)
	if err != nil {
		return r.fail(at.at, "a time in "+c.words(), shown([]byte(text)))
	}
	if c.ofDay && c.n > 0 && s+c.days < c.last-12*3600 {
		c.days += 24 * 3600 // midnight
	}
	s += c.days
	if c.n == 0 {
		c.first = s
	} else if s < c.last {
		return r.fail(at.at, fmt.Sprintf("a time not before the %s s of the row above", short(c.last)), short(s)+" s: time runs backwards")
	}
	c.last = s
	c.n++
	c.at = append(c.at, s)
	return nil
}

var errTime = errors.New("a time in seconds, or as 2026-03-01T20:15:00Z, 2026-03-01 20:15:00 or 20:15:00")

// decide finds the form of the first row's time.
func (c *timeColumn) decide(r *records, text string) error {
	c.decided = true
	if v, err := r.number([]byte(text)); err == nil && !math.IsNaN(v) {
		c.epoch(v)
		return nil
	}
	for _, l := range layouts {
		if t, err := time.ParseInLocation(l, text, c.zone); err == nil {
			c.layout, c.start = l, t
			return nil
		}
	}
	if _, err := clockTime(text); err == nil {
		c.ofDay = true
		return nil
	}
	day, dayLayout, dayOK := firstLayout(slashed[DayFirst], text, c.zone)
	month, monthLayout, monthOK := firstLayout(slashed[MonthFirst], text, c.zone)
	switch {
	case dayOK && (!monthOK || c.order == DayFirst):
		c.layout, c.start = dayLayout, day
	case monthOK && (!dayOK || c.order == MonthFirst):
		c.layout, c.start = monthLayout, month
	case dayOK:
		return errors.New("a date whose day and month can be told apart (say whether dates are day-first or month-first)")
	default:
		return errTime
	}
	return nil
}

func firstLayout(list []string, text string, zone *time.Location) (time.Time, string, bool) {
	for _, l := range list {
		if t, err := time.ParseInLocation(l, text, zone); err == nil {
			return t, l, true
		}
	}
	return time.Time{}, "", false
}

// epoch reads a number without a stated unit as time since 1970 where it can be nothing
// else: in seconds, milliseconds, microseconds or nanoseconds of the years 2001 to 2096.
func (c *timeColumn) epoch(v float64) {
	if c.stated {
		return
	}
	for _, scale := range []float64{1, 1e-3, 1e-6, 1e-9} {
		if s := v * scale; s >= 1e9 && s < 4e9 {
			c.scale = scale
			whole, part := math.Modf(s)
			c.start = time.Unix(int64(whole), int64(math.Round(part*1e9))).UTC()
			return
		}
	}
}

// clockTime reads h:m:s with decimals as seconds.
func clockTime(text string) (float64, error) {
	parts := strings.Split(text, ":")
	if len(parts) != 3 {
		return 0, errTime
	}
	total := 0.0
	for i, p := range parts {
		if p == "" || p[0] < '0' || p[0] > '9' {
			return 0, errTime
		}
		if i == 2 {
			p = strings.Replace(p, ",", ".", 1)
		}
		v, err := parseNumber([]byte(p))
		if err != nil || v < 0 || i > 0 && v >= 60 || i < 2 && v != math.Trunc(v) {
			return 0, errTime
		}
		total = total*60 + v
	}
	return math.Round(total*1e9) / 1e9, nil
}

// seconds reads a time on the file's own clock.
func (c *timeColumn) seconds(r *records, text string) (float64, error) {
	switch {
	case c.ofDay:
		return clockTime(text)
	case c.layout != "":
		t, err := time.ParseInLocation(c.layout, text, c.zone)
		return t.Sub(c.start).Seconds(), err
	}
	v, err := r.number([]byte(text))
	if math.IsNaN(v) || math.IsInf(v, 0) {
		err = errNumber
	}
	return v * c.scale, err
}

// mark reads a mark's time, in seconds whatever the column's unit, or in its form.
func (c *timeColumn) mark(text string) (float64, error) {
	v, err := parseNumber([]byte(text))
	switch {
	case err == nil && (c.layout != "" || c.ofDay):
		return v, nil // seconds from the first sample
	case err != nil && c.layout != "":
		t, err := time.ParseInLocation(c.layout, text, c.zone)
		return t.Sub(c.start).Seconds(), err
	case err != nil && c.ofDay:
		v, err = clockTime(text)
	}
	return since(v, c.first), err
}

// rebase lets the times that were read since the last call begin at the first of all.
func (c *timeColumn) rebase(at []float64) {
	for i := range at {
		at[i] = since(at[i], c.first)
	}
}

// since is a - b without the dust that a decimal difference leaves: to the nanosecond.
func since(a, b float64) float64 {
	if b == 0 {
		return a
	}
	return math.Round((a-b)*1e9) / 1e9
}

func short(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
