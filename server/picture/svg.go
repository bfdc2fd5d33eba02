package picture

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// family is what text is set in: the page's own where it is there, else one of
// about its width.
const family = `'Atkinson Hyperlegible Next Variable','Atkinson Hyperlegible Next','Segoe UI',Roboto,'Helvetica Neue',Arial,'Liberation Sans',sans-serif`

// WriteSVG writes the drawing as an SVG document (W3C SVG 1.1, with paint-order of SVG
// 2). The same drawing gives the same bytes. It returns the first error of w.
func (d *Drawing) WriteSVG(w io.Writer) error {
	s := &svgWriter{id: d.ID, patterns: map[string]bool{}}
	s.put(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" width="%s" height="%s" role="img" aria-labelledby="%sname" font-family="%s" font-variant-numeric="tabular-nums">`+"\n",
		num(d.Width), num(d.Height), num(d.Width), num(d.Height), d.ID, family)
	s.put("<title id=\"%sname\">%s</title>\n", d.ID, escape(d.Title))
	s.defs(d.shapes)
	s.put("<rect width=\"%s\" height=\"%s\" fill=\"%s\"/>\n", num(d.Width), num(d.Height), hex(paper))
	for _, shape := range d.shapes {
		shape.svg(s)
	}
	s.put("</svg>\n")
	_, err := io.WriteString(w, s.b.String())
	return err
}

type svgWriter struct {
	b        strings.Builder
	id       string
	clips    int
	patterns map[string]bool
}

func (s *svgWriter) put(format string, args ...any) { fmt.Fprintf(&s.b, format, args...) }

// defs writes the hatches and clips in use.
func (s *svgWriter) defs(shapes []shape) {
	s.put("<defs>\n")
	clips := 0
	for _, sh := range shapes {
		switch v := sh.(type) {
		case rect:
			s.pattern(v.fill)
		case area:
			s.pattern(v.fill)
		case clip:
			s.put("<clipPath id=\"%sclip%d\"><rect x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\"/></clipPath>\n", s.id, clips, num(v.X), num(v.Y), num(v.W), num(v.H))
			clips++
		}
	}
	s.put("</defs>\n")
}

func (s *svgWriter) patternID(f fill) string {
	return fmt.Sprintf("%shatch%d-%06x", s.id, f.hatch, uint32(f.colour))
}

func (s *svgWriter) pattern(f fill) {
	id := s.patternID(f)
	if f.hatch == plain || s.patterns[id] {
		return
	}
	s.patterns[id] = true
	s.put("<pattern id=\"%s\" width=\"%s\" height=\"%s\" patternUnits=\"userSpaceOnUse\"><rect width=\"%s\" height=\"%s\" fill=\"%s\"/>", id,
		num(tileSize), num(tileSize), num(tileSize), num(tileSize), hex(f.colour))
	for _, l := range hatchLines(f.hatch) {
		s.put("<path d=\"M%s %sL%s %s\" stroke=\"%s\" stroke-opacity=\"%s\" stroke-width=\"%s\"/>", num(l[0].X), num(l[0].Y), num(l[1].X), num(l[1].Y),
			hex(hatchInk), num(hatchAlpha), num(hatchWidth))
	}
	if f.hatch == dots {
		for _, p := range hatchDots {
			s.put("<circle cx=\"%s\" cy=\"%s\" r=\"1\" fill=\"%s\" fill-opacity=\"%s\"/>", num(p.X), num(p.Y), hex(hatchInk), num(hatchAlpha))
		}
	}
	s.put("</pattern>\n")
}

func (s *svgWriter) fill(f fill) string {
	paint := hex(f.colour)
	if f.hatch != plain {
		paint = "url(#" + s.patternID(f) + ")"
	}
	if f.opacity > 0 {
		return fmt.Sprintf(`fill="%s" fill-opacity="%s"`, paint, num(f.opacity))
	}
	return fmt.Sprintf(`fill="%s"`, paint)
}

func (r rect) svg(s *svgWriter) {
	s.put(`<rect x="%s" y="%s" width="%s" height="%s" %s%s`, num(r.X), num(r.Y), num(r.W), num(r.H), s.fill(r.fill), r.tag)
	if r.tip == "" {
		s.put("/>\n")
		return
	}
	s.put("><title>%s</title></rect>\n", escape(r.tip))
}

func (a area) svg(s *svgWriter) {
	if len(a.points) == 0 {
		return
	}
	s.put(`<path d="%sZ" %s%s/>`+"\n", pathOf(a.points), s.fill(a.fill), a.tag)
}

func (l line) svg(s *svgWriter) {
	var d strings.Builder
	for _, run := range l.runs {
		d.WriteString(pathOf(run))
		if len(run) == 1 { // a dot: a line of no length with round caps
			d.WriteString("h0")
		}
	}
	if d.Len() == 0 && l.tag == "" {
		return
	}
	s.put(`<path d="%s" fill="none" stroke="%s" stroke-width="%s" stroke-linejoin="round" stroke-linecap="round"`, d.String(), hex(l.stroke.colour), num(l.stroke.width))
	if len(l.stroke.dash) > 0 {
		s.put(` stroke-dasharray="%s"`, list(l.stroke.dash))
	}
	s.put("%s/>\n", l.tag)
}

// pathOf writes a polyline with relative steps of a tenth of a pixel, each from the
// rounded point before it, so that errors do not add up.
func pathOf(run []point) string {
	var d strings.Builder
	var x, y int64 // tenths of a pixel
	for i, p := range run {
		nx, ny := tenths(p.X), tenths(p.Y)
		switch {
		case i == 0:
			d.WriteString("M" + tenth(nx) + " " + tenth(ny))
		case nx == x && ny == y:
			continue
		case nx == x:
			d.WriteString("v" + tenth(ny-y))
		case ny == y:
			d.WriteString("h" + tenth(nx-x))
		default:
			d.WriteString("l" + tenth(nx-x) + " " + tenth(ny-y))
		}
		x, y = nx, ny
	}
	return d.String()
}

func tenths(v float64) int64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return int64(math.Round(v * 10))
}

// tenth writes tenths without a zero that says nothing: 15 is 1.5, 3 is .3, 20 is 2.
func tenth(n int64) string {
	sign := ""
	if n < 0 {
		sign, n = "-", -n
	}
	if n%10 == 0 {
		return sign + strconv.FormatInt(n/10, 10)
	}
	whole := ""
	if n >= 10 {
		whole = strconv.FormatInt(n/10, 10)
	}
	return sign + whole + "." + strconv.FormatInt(n%10, 10)
}

func (t words) svg(s *svgWriter) {
	s.put(`<text x="%s" y="%s" font-size="%s" fill="%s"`, num(t.at.X), num(t.at.Y), num(t.size), hex(t.colour))
	if t.bold {
		s.put(` font-weight="600"`)
	}
	if t.anchor != start {
		s.put(` text-anchor="%s"`, [...]string{"start", "middle", "end"}[t.anchor])
	}
	if t.halo {
		s.put(` stroke="%s" stroke-width="4" stroke-linejoin="round" paint-order="stroke"`, hex(paper))
	}
	s.put("%s>%s</text>\n", t.tag, escape(t.text))
}

func (c clip) svg(s *svgWriter) {
	s.put("<g clip-path=\"url(#%sclip%d)\">\n", s.id, s.clips)
	s.clips++
}

func (unclip) svg(s *svgWriter) { s.put("</g>\n") }

// escape makes text safe inside an element and an attribute, and drops what XML 1.0
// does not allow.
func escape(text string) string {
	var b strings.Builder
	xml.EscapeText(&b, []byte(text)) // a Builder gives no error
	return b.String()
}

func hex(c colour) string { return fmt.Sprintf("#%06x", uint32(c)) }

// num writes a length with a tenth or a hundredth of a pixel at most.
func num(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "0"
	}
	places := 10.0
	if math.Abs(v) < 10 {
		places = 100
	}
	v = math.Round(v*places) / places
	if v == 0 {
		v = 0 // never -0
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

func list(v []float64) string {
	parts := make([]string, len(v))
	for i := range v {
		parts[i] = num(v[i])
	}
	return strings.Join(parts, " ")
}
