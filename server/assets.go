package server

import (
	"crypto/sha256"
	"encoding/base64"
	"io/fs"
	"net/http"
	"path"
	"regexp"
	"strconv"
	"strings"

	"github.com/go-chi/chi/v5"
)

// missingPage is the answer where the binary was built without the page.
const missingPage = "the page is not built into this binary: run `go generate ./web`, then build again\n"

// types are fixed here: the system's own table differs from machine to machine.
var types = map[string]string{
	".html": "text/html; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8",
	".json": "application/json", ".webmanifest": "application/manifest+json", ".txt": "text/plain; charset=utf-8",
	".svg": "image/svg+xml", ".png": "image/png", ".ico": "image/x-icon", ".woff2": "font/woff2",
}

// hashed names hold a hash of their content ("app-1A2B3C4D.js"): they never change.
var hashed = regexp.MustCompile(`-[0-9A-Z]{8}\.[a-z0-9]+$`)

// asset is one file of the page.
type asset struct {
	plain, gz []byte // gz is nil where the build made none
	tag       string // a hash of plain
	kind      string
	cache     string
}

// assets are the page's files by name. Only names that were there at the start are
// answered, so that no path leads anywhere else.
type assets struct{ files map[string]*asset }

func newAssets(page fs.FS) *assets {
	a := &assets{files: map[string]*asset{}}
	if page == nil {
		return a
	}
	entries, err := fs.ReadDir(page, ".")
	if err != nil {
		return a
	}
	for _, e := range entries {
		name := e.Name()
		kind, known := types[path.Ext(name)]
		if e.IsDir() || !known || strings.HasPrefix(name, ".") {
			continue
		}
		plain, err := fs.ReadFile(page, name)
		if err != nil {
			continue
		}
		gz, _ := fs.ReadFile(page, name+".gz") // none is no fault
		sum := sha256.Sum256(plain)
		a.files[name] = &asset{plain: plain, gz: gz, kind: kind, cache: cacheOf(name),
			tag: base64.RawURLEncoding.EncodeToString(sum[:12])}
	}
	return a
}

// cacheOf lets a browser keep what cannot change, and ask again for all else.
func cacheOf(name string) string {
	switch {
	case name == "index.html":
		return "no-store"
	case hashed.MatchString(name):
		return "public, max-age=31536000, immutable"
	}
	return "no-cache"
}

func (a *assets) index(w http.ResponseWriter, r *http.Request) {
	f, ok := a.files["index.html"]
	if !ok {
		writeBody(w, http.StatusServiceUnavailable, types[".txt"], []byte(missingPage))
		return
	}
	f.serve(w, r)
}

func (a *assets) file(w http.ResponseWriter, r *http.Request) {
	f, ok := a.files[chi.URLParam(r, "file")]
	if !ok {
		refuse(w, http.StatusNotFound, "there is nothing here")
		return
	}
	f.serve(w, r)
}

func (f *asset) serve(w http.ResponseWriter, r *http.Request) {
	body, tag := f.plain, f.tag
	h := w.Header()
	h.Set("Vary", "Accept-Encoding")
	if f.gz != nil && takesGzip(r.Header.Get("Accept-Encoding")) {
		body, tag = f.gz, f.tag+"-gz"
		h.Set("Content-Encoding", "gzip")
	}
	h.Set("ETag", `"`+tag+`"`)
	h.Set("Cache-Control", f.cache)
	h.Set("Content-Type", f.kind)
	if strings.Contains(r.Header.Get("If-None-Match"), `"`+tag+`"`) {
		h.Del("Content-Encoding")
		w.WriteHeader(http.StatusNotModified)
		return
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	if r.Method != http.MethodHead {
		w.Write(body) // an error here is the viewer's going away
	}
}

// takesGzip reads Accept-Encoding (RFC 9110, 12.5.3) as far as gzip goes: q=0 refuses.
func takesGzip(accept string) bool {
	for part := range strings.SplitSeq(accept, ",") {
		coding, weight, _ := strings.Cut(part, ";")
		if !strings.EqualFold(strings.TrimSpace(coding), "gzip") {
			continue
		}
		q, ok := strings.CutPrefix(strings.TrimSpace(weight), "q=")
		value, err := strconv.ParseFloat(q, 64)
		return !ok || err == nil && value > 0
	}
	return false
}
