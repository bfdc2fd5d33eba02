// Package picture draws a recording and its analysis as a picture for a report, without
// a browser: the annotated chart over time, the overlay of several recordings, and the
// temperature stair. One [Drawing] gives SVG, text as text, and PNG.
//
// It decides nothing: what is annotated are the findings of an analysis.Result. Names
// and marks are untrusted text. The colours are those of the page (web/src/styles/
// tokens.css), after M. Okabe and K. Ito, "Color Universal Design" (2008), each limiter
// with a hatch of its own.
//
// PNG is drawn with golang.org/x/image/vector and the Go fonts of golang.org/x/image:
// pure Go, maintained with the language, and small; strokes are all that it lacks.
// It must not know sessions, the archive, HTTP or how a report is laid out.
package picture
