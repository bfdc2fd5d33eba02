// Package openmetrics writes the newest readings of a session as OpenMetrics text, for
// those who collect elsewhere (OpenMetrics specification, version 1.0.0, "Text Format").
//
// A quantity is one metric family with its unit in the name; a channel is one metric of
// it, told apart by labels. A gap is left out. It knows no HTTP and no session.
package openmetrics

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// ContentType is what such an answer is sent as.
const ContentType = "application/openmetrics-text; version=1.0.0; charset=utf-8"

// Snapshot is one row with what it is a row of. Text in it is untrusted.
type Snapshot struct {
	Session   string
	Origin    string
	Simulated bool
	Channels  []telemetry.Channel
	Values    []float64 // by channel in canonical units; NaN in a gap
	AtS       float64   // s since the session's first sample
	Rows      uint64    // sampled so far
}

// family is how a quantity is written.
type family struct {
	kind  quantity.Kind
	name  string // the unit ends it where there is one
	unit  string
	form  string // gauge or counter
	scale float64
	help  string
}

// families are the quantities in base units (the specification's "Units and Base Units"),
// where it has one. Labels are left out: they are no numbers.
var families = []family{
	{quantity.Temperature, "soakline_temperature_celsius", "celsius", "gauge", 1, "Temperature."},
	{quantity.Difference, "soakline_temperature_difference_kelvin", "kelvin", "gauge", 1, "Temperature difference."},
	{quantity.Power, "soakline_power_watts", "watts", "gauge", 1, "Power, measured or allowed; the role says which."},
	{quantity.Energy, "soakline_energy_joules", "joules", "counter", 1, "Energy as the hardware counts it; it may wrap or restart."},
	{quantity.Frequency, "soakline_frequency_hertz", "hertz", "gauge", 1e6, "Clock frequency."},
	{quantity.Rotation, "soakline_rotation_rpm", "rpm", "gauge", 1, "Rotational speed in revolutions a minute."},
	{quantity.Potential, "soakline_potential_volts", "volts", "gauge", 1, "Electric potential."},
	{quantity.Current, "soakline_current_amperes", "amperes", "gauge", 1, "Electric current."},
	{quantity.Share, "soakline_share_ratio", "ratio", "gauge", 0.01, "A share, 1 is all."},
	{quantity.Duration, "soakline_duration_seconds", "seconds", "gauge", 1, "A length of time, the window of a power limit for instance."},
	{quantity.Flow, "soakline_flow_liters_per_minute", "liters_per_minute", "gauge", 1, "Flow."},
	{quantity.Count, "soakline_events", "", "counter", 1, "Events as the hardware counts them."},
	{quantity.Bits, "soakline_limit_reasons", "", "gauge", 1, "The hardware's own limit reasons as a bit mask."},
	{quantity.Rate, "soakline_work_per_second", "", "gauge", 1, "Work done a second."},
	{quantity.Resistance, "soakline_thermal_resistance_kelvin_per_watt", "kelvin_per_watt", "gauge", 1, "Thermal resistance."},
	{quantity.Unknown, "soakline_value", "", "gauge", 1, "A number whose unit was not given."},
}

// Write writes the snapshot. It returns the first error of w.
func Write(w io.Writer, s Snapshot) error {
	var b strings.Builder
	b.WriteString("# TYPE soakline_session info\n# HELP soakline_session What is being watched.\n")
	fmt.Fprintf(&b, "soakline_session_info{id=\"%s\",origin=\"%s\",simulated=\"%t\"} 1\n", escape(s.Session), escape(s.Origin), s.Simulated)
	b.WriteString("# TYPE soakline_session_time_seconds gauge\n# UNIT soakline_session_time_seconds seconds\n" +
		"# HELP soakline_session_time_seconds Time of the newest row since the session's first sample.\n")
	fmt.Fprintf(&b, "soakline_session_time_seconds %s\n", number(s.AtS))
	fmt.Fprintf(&b, "# TYPE soakline_rows counter\n# HELP soakline_rows Rows sampled so far.\nsoakline_rows_total %d\n", s.Rows)
	for _, f := range families {
		f.write(&b, s)
	}
	b.WriteString("# EOF\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// write adds a family with those of its channels that have a value; without any it adds
// nothing.
func (f family) write(b *strings.Builder, s Snapshot) {
	begun := false
	for i, c := range s.Channels {
		if c.Quantity != f.kind || i >= len(s.Values) || math.IsNaN(s.Values[i]) || math.IsInf(s.Values[i], 0) {
			continue
		}
		if f.form == "counter" && s.Values[i] < 0 { // a counter is never negative
			continue
		}
		if !begun {
			begun = true
			fmt.Fprintf(b, "# TYPE %s %s\n", f.name, f.form)
			if f.unit != "" {
				fmt.Fprintf(b, "# UNIT %s %s\n", f.name, f.unit)
			}
			fmt.Fprintf(b, "# HELP %s %s\n", f.name, f.help)
		}
		b.WriteString(f.name)
		if f.form == "counter" {
			b.WriteString("_total")
		}
		fmt.Fprintf(b, "{channel=\"%s\",key=\"%s\",role=\"%s\",source=\"%s\"", escape(c.Name), escape(c.Key), escape(string(c.Role)), escape(c.Source))
		if c.Simulated {
			b.WriteString(`,simulated="true"`)
		}
		fmt.Fprintf(b, "} %s\n", number(s.Values[i]*f.scale))
	}
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// escape writes a label's value after the specification's "Escaping": backslash, quote
// and line feed.
func escape(text string) string {
	if !utf8.ValidString(text) {
		text = strings.ToValidUTF8(text, "\ufffd")
	}
	return escaper.Replace(text)
}

var escaper = strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`)
