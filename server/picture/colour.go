package picture

import (
	"image/color"

	"soakline/analysis"
)

// colour is 0xRRGGBB.
type colour uint32

func (c colour) rgb() color.NRGBA {
	return color.NRGBA{uint8(c >> 16), uint8(c >> 8), uint8(c), 255}
}

// The colours of the page on light paper, by the names of tokens.css: a picture goes
// into documents, which are light.
const (
	paper       colour = 0xf8f5ee
	raised      colour = 0xfffdf8
	ink         colour = 0x1d1b17
	quiet       colour = 0x5f5a50
	rule        colour = 0xd8d2c4
	grid        colour = 0xe7e1d4
	limitLine   colour = 0x6d665a
	power       colour = 0xa96800
	temperature colour = 0xbd4b00
	clock       colour = 0x0072b2
	other1      colour = 0x5c6f2e
	other2      colour = 0x7a5a86
	other3      colour = 0x4f6a72
	onLimiter   colour = 0x14110c
	stamp       colour = 0xf0e442
)

// hatch is the pattern that stands beside a colour.
type hatch uint8

const (
	plain hatch = iota
	dots
	uprights
	rising
	crossed
	levels
	falling
)

// look of a limiter: its name on the page, its colour and its hatch.
type look struct {
	title  string
	colour colour
	hatch  hatch
}

var looks = map[analysis.Kind]look{
	analysis.Idle:       {"idle", 0xebe5d8, plain},
	analysis.Clock:      {"highest clock", 0x56b4e9, dots},
	analysis.PowerShort: {"short-term power limit", 0xf0e442, uprights},
	analysis.PowerLong:  {"long-term power limit", 0xe69f00, rising},
	analysis.Thermal:    {"heat", 0xd55e00, crossed},
	analysis.Current:    {"current limit", 0xcc79a7, levels},
	analysis.Other:      {"another limit", 0x009e73, falling},
}

func lookOf(k analysis.Kind) look {
	if l, ok := looks[k]; ok {
		return l
	}
	return looks[analysis.Other]
}

// LimiterTitle is what a kind of limiter is called on the page and in a report.
func LimiterTitle(k analysis.Kind) string { return lookOf(k).title }

// tileSize is the period of a hatch, px; hatchWidth the width of its lines.
const (
	tileSize   = 8.0
	hatchWidth = 1.3
	hatchAlpha = 0.34
	hatchInk   = 0x140f05
)

// hatchLines are the lines of one tile; dots have none.
func hatchLines(h hatch) [][2]point {
	const n = tileSize
	var out [][2]point
	if h == uprights {
		out = append(out, [2]point{{n / 2, 0}, {n / 2, n}})
	}
	if h == levels {
		out = append(out, [2]point{{0, n / 2}, {n, n / 2}})
	}
	for _, d := range []float64{-n, 0, n} {
		if h == rising || h == crossed {
			out = append(out, [2]point{{d - 1, n + 1}, {d + n + 1, -1}})
		}
		if h == falling || h == crossed {
			out = append(out, [2]point{{d - 1, -1}, {d + n + 1, n + 1}})
		}
	}
	return out
}

var hatchDots = []point{{2, 2}, {6, 6}}
