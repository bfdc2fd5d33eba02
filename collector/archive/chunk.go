package archive

import (
	"encoding/binary"
	"fmt"
	"math"

	"soakline/collector/quantity"
	"soakline/collector/ring"
	"soakline/collector/telemetry"
)

// chunk is a run of rows in columns.
type chunk struct {
	first  uint64 // the number of its first row
	at     []float64
	values [][]float64 // [channel][row]; NaN in a gap
	states [][]telemetry.State
}

// newChunk makes an empty chunk of so many channels with room for rows.
func newChunk(first uint64, channels, rows int) *chunk {
	c := &chunk{first: first, at: make([]float64, 0, rows)}
	for range channels {
		c.values = append(c.values, make([]float64, 0, rows))
		c.states = append(c.states, make([]telemetry.State, 0, rows))
	}
	return c
}

// width is how many bytes a value of a quantity takes: counters and masks need every
// digit, all else is measured to far less than the seven digits of a float32.
func width(k quantity.Kind) int {
	switch k {
	case quantity.Energy, quantity.Count, quantity.Bits, quantity.Unknown:
		return 8
	}
	return 4
}

// fromBlock turns the rows of a block into columns.
func fromBlock(b *ring.Block) *chunk {
	c := newChunk(b.First, b.Channels, b.N)
	c.at = append(c.at, b.At[:b.N]...)
	for k := range b.Channels {
		for i := range b.N {
			v, s := b.Values[i*b.Channels+k], b.States[i*b.Channels+k]
			c.values[k], c.states[k] = append(c.values[k], v), append(c.states[k], s)
		}
	}
	return c
}

// append adds the rows of d; channels that d lacks have no data in them.
func (c *chunk) append(d *chunk) {
	c.at = append(c.at, d.at...)
	for k := range c.values {
		if k < len(d.values) {
			c.values[k], c.states[k] = append(c.values[k], d.values[k]...), append(c.states[k], d.states[k]...)
			continue
		}
		for range d.at {
			c.values[k], c.states[k] = append(c.values[k], math.NaN()), append(c.states[k], telemetry.NoData)
		}
	}
}

// plain is form 0 of schema.sql.
func (c *chunk) plain(widths []int) []byte {
	b := make([]byte, 0, len(c.at)*(8+9*len(c.values)))
	for _, t := range c.at {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(t))
	}
	for k, column := range c.values {
		for i, v := range column {
			if !c.states[k][i].Usable() {
				v = math.NaN()
			}
			if widths[k] == 8 {
				b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
			} else {
				b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(v)))
			}
		}
	}
	for _, column := range c.states {
		for _, s := range column {
			b = append(b, byte(s))
		}
	}
	return b
}

// readPlain is the inverse of plain.
func readPlain(b []byte, first uint64, rows, channels int, widths []int) (*chunk, error) {
	want := rows * (8 + channels)
	for _, w := range widths[:channels] {
		want += rows * w
	}
	if len(b) != want {
		return nil, fmt.Errorf("%w: the block of row %d has %d bytes, not %d", ErrDamaged, first, len(b), want)
	}
	c := newChunk(first, channels, rows)
	for range rows {
		c.at = append(c.at, math.Float64frombits(binary.LittleEndian.Uint64(b)))
		b = b[8:]
	}
	for k := range channels {
		for range rows {
			if widths[k] == 8 {
				c.values[k] = append(c.values[k], math.Float64frombits(binary.LittleEndian.Uint64(b)))
			} else {
				c.values[k] = append(c.values[k], widen(math.Float32frombits(binary.LittleEndian.Uint32(b))))
			}
			b = b[widths[k]:]
		}
	}
	for k := range channels {
		for range rows {
			c.states[k] = append(c.states[k], telemetry.State(b[0]))
			b = b[1:]
		}
	}
	return c, nil
}
