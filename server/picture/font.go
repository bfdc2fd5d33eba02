package picture

import (
	"image"
	"math"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// The Go fonts hold Latin, Greek and Cyrillic; in PNG other scripts show as boxes.
var fonts = sync.OnceValue(func() [2]*sfnt.Font {
	var out [2]*sfnt.Font
	for i, ttf := range [][]byte{goregular.TTF, gobold.TTF} {
		f, err := opentype.Parse(ttf)
		if err != nil {
			panic(err) // the embedded font is whole, or no picture was ever drawn
		}
		out[i] = f
	}
	return out
})

type faceKey struct {
	size float64
	bold bool
}

type face struct{ font.Face }

func newFace(k faceKey, scale float64) *face {
	f := fonts()[0]
	if k.bold {
		f = fonts()[1]
	}
	made, err := opentype.NewFace(f, &opentype.FaceOptions{Size: k.size * scale, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic(err) // only a size out of all range
	}
	return &face{made}
}

// measure is a face of 16 px to measure text with; a face is for one goroutine.
var measures = sync.Pool{New: func() any { return &[2]*face{newFace(faceKey{16, false}, 1), newFace(faceKey{16, true}, 1)} }}

// spare is what a viewer's font may be wider than the one that is measured here.
const spare = 1.1

// textWidth is how wide text of a size is at most, px: generous in PNG, near in SVG,
// where the viewer's font counts.
func textWidth(text string, size float64, bold bool) float64 {
	m := measures.Get().(*[2]*face)
	defer measures.Put(m)
	f := m[0]
	if bold {
		f = m[1]
	}
	return float64(font.MeasureString(f, text)) / 64 * size / 16 * spare
}

// fitted shortens text until it fits; "" where not even a few letters do.
func fitted(text string, size float64, bold bool, room float64) string {
	if textWidth(text, size, bold) <= room {
		return text
	}
	letters := []rune(text)
	for n := len(letters) - 1; n >= 3; n-- {
		if short := string(letters[:n]) + "…"; textWidth(short, size, bold) <= room {
			return short
		}
	}
	return ""
}

func (t words) paint(c *canvas) {
	key := faceKey{t.size, t.bold}
	f := c.faces[key]
	if f == nil {
		f = newFace(key, c.scale)
		c.faces[key] = f
	}
	x := t.at.X * c.scale
	switch width := float64(font.MeasureString(f, t.text)) / 64; t.anchor {
	case middle:
		x -= width / 2
	case end:
		x -= width
	}
	y := t.at.Y * c.scale
	clipped := c.image.SubImage(c.bounds).(*image.RGBA)
	at := func(dx, dy float64) fixed.Point26_6 {
		return fixed.Point26_6{X: fixed.Int26_6(math.Round((x + dx) * 64)), Y: fixed.Int26_6(math.Round((y + dy) * 64))}
	}
	d := font.Drawer{Dst: clipped, Face: f}
	if t.halo {
		d.Src = image.NewUniform(paper.rgb())
		for i := range 16 {
			sin, cos := math.Sincos(math.Pi * float64(i) / 8)
			d.Dot = at(2*c.scale*cos, 2*c.scale*sin)
			d.DrawString(t.text)
		}
	}
	d.Src, d.Dot = image.NewUniform(t.colour.rgb()), at(0, 0)
	d.DrawString(t.text)
}
