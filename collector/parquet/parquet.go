// Package parquet writes a trace as an Apache Parquet file for data work: one column a
// channel with its unit in the name, null where there is no value, a column of reasons
// beside each channel that has gaps, and what the columns mean, the setup and the marks
// as JSON in the file's key-value metadata under "soakline".
//
// It knows traces alone, no archive and no analysis.
package parquet

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	pq "github.com/parquet-go/parquet-go"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// MetaKey is the metadata key under which a file's Meta stands.
const MetaKey = "soakline"

// TimeColumn holds seconds from the first sample.
const TimeColumn = "time [s]"

// Meta says what the columns of a file are. Text in it may come from drivers and files.
type Meta struct {
	Start     *time.Time `json:"start"` // of the first sample; null if it is not known
	Simulated bool       `json:"simulated"`
	Columns   []Column   `json:"columns"`
	Setup     []Setting  `json:"setup"`
	Marks     []Mark     `json:"marks"`
}

// Column is one channel.
type Column struct {
	Name     string `json:"name"` // the column's, unique in the file
	Gaps     string `json:"gaps"` // the column of its reasons for gaps, or ""
	Channel  string `json:"channel"`
	Key      string `json:"key"`
	Unit     string `json:"unit"`
	Quantity string `json:"quantity"`
	Role     string `json:"role"`
	Source   string `json:"source"`
	Device   string `json:"device"`
}

// Setting is one condition of the setup.
type Setting struct {
	Key   string `json:"key"`
	Value string `json:"value"`
}

// Mark is a note pinned to a time.
type Mark struct {
	AtS  float64 `json:"at_s"`
	Kind string  `json:"kind"`
	Text string  `json:"text"`
}

// group is a group of columns in the order given; parquet's own is sorted by name.
type group struct {
	pq.Group
	order []string
}

func (g group) Fields() []pq.Field {
	fields := g.Group.Fields()
	slices.SortFunc(fields, func(a, b pq.Field) int { return slices.Index(g.order, a.Name()) - slices.Index(g.order, b.Name()) })
	return fields
}

// rowsInGroup bounds what the library holds in memory: about three hours at 10 Hz.
const rowsInGroup = 100_000

// rowsAtOnce is how many rows are handed to the library at a time.
const rowsAtOnce = 512

// Write writes t. Reason masks are 64-bit integers, labels are text, everything else is
// a double in the canonical unit of its quantity. It returns the first error of w.
func Write(w io.Writer, t *telemetry.Trace) error {
	cols := columns(t)
	meta, err := json.Marshal(metaOf(t, cols))
	if err != nil {
		return fmt.Errorf("write Parquet: %w", err)
	}
	out := pq.NewWriter(w, schema(t, cols), pq.Compression(&pq.Zstd), pq.KeyValueMetadata(MetaKey, string(meta)),
		pq.CreatedBy("soakline", "", ""), pq.DataPageStatistics(true), pq.MaxRowsPerRowGroup(rowsInGroup))
	rows := make([]pq.Row, 0, rowsAtOnce)
	for i := range t.Time {
		rows = append(rows, rowOf(t, cols, i))
		if len(rows) == cap(rows) || i == len(t.Time)-1 {
			if _, err := out.WriteRows(rows); err != nil {
				return fmt.Errorf("write Parquet: %w", err)
			}
			rows = rows[:0]
		}
	}
	if err := out.Close(); err != nil {
		return fmt.Errorf("write Parquet: %w", err)
	}
	return nil
}

// columns names the columns of each channel.
func columns(t *telemetry.Trace) []Column {
	taken := map[string]bool{TimeColumn: true}
	unique := func(name string) string {
		for n, try := 2, name; ; n++ {
			if !taken[try] {
				taken[try] = true
				return try
			}
			try = fmt.Sprintf("%s %d", name, n)
		}
	}
	out := make([]Column, len(t.Channels))
	for i, c := range t.Channels {
		unit := c.Quantity.Unit()
		name := c.Name
		if unit != "" {
			name += " [" + unit + "]"
		}
		out[i] = Column{Name: unique(name), Channel: c.Name, Key: c.Key, Unit: unit, Quantity: c.Quantity.String(),
			Role: string(c.Role), Source: c.Source, Device: c.Device}
		if hasReasons(t, i) {
			out[i].Gaps = unique(name + " gap")
		}
	}
	return out
}

// hasReasons is true where the trace says why values are missing.
func hasReasons(t *telemetry.Trace, c int) bool {
	return c < len(t.States) && slices.ContainsFunc(t.States[c], func(s telemetry.State) bool { return !s.Usable() })
}

func metaOf(t *telemetry.Trace, cols []Column) Meta {
	m := Meta{Simulated: t.Simulated, Columns: cols, Setup: []Setting{}, Marks: []Mark{}}
	if !t.Start.IsZero() {
		m.Start = &t.Start
	}
	for _, s := range t.Setup {
		m.Setup = append(m.Setup, Setting(s))
	}
	for _, k := range t.Marks {
		m.Marks = append(m.Marks, Mark{AtS: k.At, Kind: string(k.Kind), Text: k.Text})
	}
	return m
}

func schema(t *telemetry.Trace, cols []Column) *pq.Schema {
	g := group{pq.Group{TimeColumn: pq.Leaf(pq.DoubleType)}, []string{TimeColumn}}
	add := func(name string, node pq.Node) {
		g.Group[name] = pq.Optional(node)
		g.order = append(g.order, name)
	}
	for i, c := range cols {
		switch t.Channels[i].Quantity {
		case quantity.Bits:
			add(c.Name, pq.Int(64))
		case quantity.Label:
			add(c.Name, pq.Encoded(pq.String(), &pq.RLEDictionary))
		default:
			add(c.Name, pq.Encoded(pq.Leaf(pq.DoubleType), &pq.RLEDictionary))
		}
		if c.Gaps != "" {
			add(c.Gaps, pq.Encoded(pq.String(), &pq.RLEDictionary))
		}
	}
	return pq.NewSchema("trace", g)
}

func rowOf(t *telemetry.Trace, cols []Column, i int) pq.Row {
	row := pq.Row{pq.DoubleValue(t.Time[i]).Level(0, 0, 0)}
	add := func(v pq.Value, known bool) {
		if known {
			row = append(row, v.Level(0, 1, len(row)))
		} else {
			row = append(row, pq.NullValue().Level(0, 0, len(row)))
		}
	}
	for c := range cols {
		add(valueOf(&t.Channels[c], t.Values[c][i]))
		if cols[c].Gaps != "" {
			why := t.StateAt(c, i).Reason()
			add(pq.ByteArrayValue([]byte(why)), why != "")
		}
	}
	return row
}

// valueOf is a reading as its column holds it; known is false in a gap.
func valueOf(c *telemetry.Channel, v float64) (value pq.Value, known bool) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return pq.Value{}, false
	}
	switch c.Quantity {
	case quantity.Bits:
		return pq.Int64Value(int64(v)), true
	case quantity.Label:
		if k := int(v); k >= 0 && k < len(c.Labels) {
			return pq.ByteArrayValue([]byte(c.Labels[k])), true
		}
		return pq.Value{}, false
	}
	return pq.DoubleValue(v), true
}
