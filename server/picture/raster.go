package picture

import (
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"

	"golang.org/x/image/vector"
)

// maxPixels bounds the memory of a PNG: 4 bytes each.
const maxPixels = 64 << 20

// WritePNG writes the drawing as a PNG at scale pixels to the pixel (2 for print). It
// returns the first error of w.
func (d *Drawing) WritePNG(w io.Writer, scale float64) error {
	scale = math.Min(math.Max(scale, 0.25), math.Sqrt(maxPixels/(d.Width*d.Height)))
	c := newCanvas(d.Width, d.Height, scale)
	for _, s := range d.shapes {
		s.paint(c)
	}
	return png.Encode(w, c.image)
}

// canvas is an image being drawn.
type canvas struct {
	image  *image.RGBA
	scale  float64
	bounds image.Rectangle // of the clip
	raster *vector.Rasterizer
	tiles  map[fill]*image.RGBA
	faces  map[faceKey]*face
}

func newCanvas(width, height, scale float64) *canvas {
	r := image.Rect(0, 0, int(math.Ceil(width*scale)), int(math.Ceil(height*scale)))
	c := &canvas{image: image.NewRGBA(r), scale: scale, bounds: r, raster: vector.NewRasterizer(r.Dx(), r.Dy()),
		tiles: map[fill]*image.RGBA{}, faces: map[faceKey]*face{}}
	draw.Draw(c.image, r, image.NewUniform(paper.rgb()), image.Point{}, draw.Src)
	return c
}

// polygon fills a closed shape of points in drawing coordinates.
func (c *canvas) polygon(outlines [][]point, src image.Image) {
	low, high := point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for _, o := range outlines {
		for _, p := range o {
			low = point{math.Min(low.X, p.X), math.Min(low.Y, p.Y)}
			high = point{math.Max(high.X, p.X), math.Max(high.Y, p.Y)}
		}
	}
	if !(low.X <= high.X && low.Y <= high.Y) {
		return
	}
	r := image.Rect(int(math.Floor(low.X*c.scale)), int(math.Floor(low.Y*c.scale)), int(math.Ceil(high.X*c.scale))+1, int(math.Ceil(high.Y*c.scale))+1).Intersect(c.bounds)
	if r.Empty() {
		return
	}
	// The rasterizer takes the part inside its own size alone: move the clip to 0, 0.
	c.raster.Reset(r.Dx(), r.Dy())
	at := func(p point) (x, y float32) {
		return float32(p.X*c.scale) - float32(r.Min.X), float32(p.Y*c.scale) - float32(r.Min.Y)
	}
	for _, o := range outlines {
		if len(o) == 0 {
			continue
		}
		c.raster.MoveTo(at(o[0]))
		for _, p := range o[1:] {
			c.raster.LineTo(at(p))
		}
		c.raster.ClosePath()
	}
	c.raster.Draw(c.image, r, src, r.Min)
}

// source is what a fill paints with.
func (c *canvas) source(f fill) image.Image {
	if f.hatch == plain {
		ink := f.colour.rgb()
		if f.opacity > 0 {
			ink.A = uint8(math.Round(255 * f.opacity))
		}
		return image.NewUniform(ink)
	}
	t := c.tiles[f]
	if t == nil {
		t = c.tile(f)
		c.tiles[f] = t
	}
	return tiled{t}
}

// tile draws one period of a hatch. Its size is a whole number of pixels.
func (c *canvas) tile(f fill) *image.RGBA {
	n := max(1, math.Round(tileSize*c.scale))
	t := newCanvas(n, n, 1)
	draw.Draw(t.image, t.bounds, image.NewUniform(f.colour.rgb()), image.Point{}, draw.Src)
	shade := colour(hatchInk).rgb()
	shade.A = uint8(math.Round(255 * hatchAlpha))
	k := n / tileSize
	for _, l := range hatchLines(f.hatch) {
		t.polygon([][]point{segment(scaled(l[0], k), scaled(l[1], k), hatchWidth*k)}, image.NewUniform(shade))
	}
	if f.hatch == dots {
		for _, p := range hatchDots {
			t.polygon([][]point{disc(scaled(p, k), k)}, image.NewUniform(shade))
		}
	}
	return t.image
}

func scaled(p point, k float64) point { return point{p.X * k, p.Y * k} }

// tiled repeats an image without end.
type tiled struct{ *image.RGBA }

func (t tiled) Bounds() image.Rectangle { return image.Rect(-1e9, -1e9, 1e9, 1e9) }

func (t tiled) At(x, y int) color.Color {
	b := t.RGBA.Bounds()
	return t.RGBA.At(wrap(x, b.Dx()), wrap(y, b.Dy()))
}

func wrap(x, n int) int { return ((x % n) + n) % n }

func (r rect) paint(c *canvas) {
	c.polygon([][]point{{{r.X, r.Y}, {r.X + r.W, r.Y}, {r.X + r.W, r.Y + r.H}, {r.X, r.Y + r.H}}}, c.source(r.fill))
}

func (a area) paint(c *canvas) { c.polygon([][]point{a.points}, c.source(a.fill)) }

func (k clip) paint(c *canvas) {
	c.bounds = image.Rect(int(k.X*c.scale), int(k.Y*c.scale), int(math.Ceil((k.X+k.W)*c.scale)), int(math.Ceil((k.Y+k.H)*c.scale))).Intersect(c.image.Bounds())
}

func (unclip) paint(c *canvas) { c.bounds = c.image.Bounds() }
