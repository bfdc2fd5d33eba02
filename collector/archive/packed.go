package archive

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"math"
	"strconv"

	"soakline/collector/telemetry"
)

// How the numbers of a packed column are coded; 0..maxDecimals are powers of ten.
const (
	maxDecimals = 9
	codedXOR    = 255
)

// pack is form 1 of schema.sql.
func (c *chunk) pack(widths []int) ([]byte, error) { return c.packAt(widths, zlib.BestCompression) }

// packAt packs with as much effort as the level of zlib says.
func (c *chunk) packAt(widths []int, level int) ([]byte, error) {
	var out bytes.Buffer
	z, err := zlib.NewWriterLevel(&out, level)
	if err != nil {
		return nil, err
	}
	z.Write(packColumn(c.at, nil, 8))
	for k, column := range c.values {
		z.Write(packColumn(column, c.states[k], widths[k]))
	}
	for _, column := range c.states {
		b := make([]byte, len(column))
		for i, s := range column {
			b[i] = byte(s)
		}
		z.Write(b)
	}
	err = z.Close()
	return out.Bytes(), err
}

// packColumn codes one column into byte planes. states is nil where there are no gaps.
func packColumn(column []float64, states []telemetry.State, width int) []byte {
	values, from := make([]float64, 0, len(column)), make([]int, 0, len(column)) // those that are no gaps
	for i, v := range column {
		if states != nil && !states[i].Usable() {
			continue
		}
		if width == 4 {
			v = widen(float32(v))
		}
		values, from = append(values, v), append(from, i)
	}
	how := decimals(values, width)
	planes := make([]byte, 1+width*len(column))
	planes[0] = how
	var last uint64
	for i, v := range values {
		now := bitsOf(v, how, width)
		coded := now ^ last
		if how != codedXOR {
			coded = zigzag(int64(now - last))
		}
		last = now
		for p := range width {
			planes[1+p*len(column)+from[i]] = byte(coded >> (8 * p))
		}
	}
	return planes
}

// bitsOf is the integer that stands for a value.
func bitsOf(v float64, how byte, width int) uint64 {
	switch {
	case how != codedXOR:
		return uint64(int64(math.Round(v * math.Pow10(int(how)))))
	case width == 8:
		return math.Float64bits(v)
	}
	return uint64(math.Float32bits(float32(v)))
}

// valueOf is the inverse of bitsOf.
func valueOf(bits uint64, how byte, width int) float64 {
	switch {
	case how != codedXOR:
		return float64(int64(bits)) / math.Pow10(int(how))
	case width == 8:
		return math.Float64frombits(bits)
	}
	return widen(math.Float32frombits(uint32(bits)))
}

// decimals finds the fewest decimals with which every value comes back to the last bit;
// codedXOR where there are none.
func decimals(values []float64, width int) byte {
	most := float64(1 << 30) // so that a difference fits the planes
	if width == 8 {
		most = 1 << 53
	}
	how := byte(0)
	for _, v := range values {
		for !comesBack(v, how, most) {
			if how++; how > maxDecimals {
				return codedXOR
			}
		}
	}
	for _, v := range values { // more decimals may have made an early integer too large
		if !comesBack(v, how, most) {
			return codedXOR
		}
	}
	return how
}

func comesBack(v float64, how byte, most float64) bool {
	scale := math.Pow10(int(how))
	n := math.Round(v * scale)
	return math.Abs(n) < most && n/scale == v && !(v == 0 && math.Signbit(v))
}

func zigzag(d int64) uint64   { return uint64(d<<1) ^ uint64(d>>63) }
func unzigzag(u uint64) int64 { return int64(u>>1) ^ -int64(u&1) }

// widen gives the float64 that a person means by a float32: 0.1, not
// 0.10000000149011612. It is the number with the fewest digits that rounds to f.
func widen(f float32) float64 {
	v := float64(f)
	if near := math.Round(v*1e3) / 1e3; math.Abs(v) < 1e4 && float32(near) == f {
		return near // seven digits or fewer: a float32 keeps six whatever they are
	}
	if math.IsNaN(v) || math.IsInf(v, 0) || v == math.Trunc(v) {
		return v
	}
	v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', -1, 32), 64)
	return v
}

// readPacked is the inverse of pack.
func readPacked(b []byte, first uint64, rows, channels int, widths []int) (*chunk, error) {
	bad := func(err error) (*chunk, error) {
		return nil, fmt.Errorf("%w: the packed block of row %d: %v", ErrDamaged, first, err)
	}
	z, err := zlib.NewReader(bytes.NewReader(b))
	if err != nil {
		return bad(err)
	}
	c := newChunk(first, channels, rows)
	if c.at, err = readColumn(z, rows, 8); err != nil {
		return bad(err)
	}
	for k := range channels {
		if c.values[k], err = readColumn(z, rows, widths[k]); err != nil {
			return bad(err)
		}
	}
	states := make([]byte, rows)
	for k := range channels {
		if _, err := io.ReadFull(z, states); err != nil {
			return bad(err)
		}
		for i, s := range states {
			c.states[k] = append(c.states[k], telemetry.State(s))
			if !telemetry.State(s).Usable() {
				c.values[k][i] = math.NaN()
			}
		}
	}
	// The end of the stream carries the checksum of all before it.
	if n, err := z.Read(make([]byte, 1)); n != 0 || err != io.EOF {
		return bad(fmt.Errorf("more than its %d rows (%v)", rows, err))
	}
	return c, nil
}

func readColumn(z io.Reader, rows, width int) ([]float64, error) {
	planes := make([]byte, 1+width*rows)
	if _, err := io.ReadFull(z, planes); err != nil {
		return nil, err
	}
	how := planes[0]
	if how > maxDecimals && how != codedXOR {
		return nil, fmt.Errorf("coding %d is not known", how)
	}
	column := make([]float64, rows)
	var last uint64
	for i := range column {
		var coded uint64
		for p := range width {
			coded |= uint64(planes[1+p*rows+i]) << (8 * p)
		}
		if how == codedXOR {
			last ^= coded
		} else {
			last += uint64(unzigzag(coded))
		}
		column[i] = valueOf(last, how, width)
	}
	return column, nil
}
