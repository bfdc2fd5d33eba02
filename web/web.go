// Package web holds the page: the bundle that web/build makes from web/src, embedded
// into the binary. It must not know values, channels or how it is served.
package web

import (
	"embed"
	"errors"
	"io/fs"
)

//go:generate go run ./build

// dist holds a placeholder alone until the page is built: "all:" takes in the dot file,
// so that the binary builds without the page too.
//
//go:embed all:dist
var dist embed.FS

// errMissing names the command that builds the page.
var errMissing = errors.New("the page is not built into this binary: run `go generate ./web`, then build again")

// Page is the page's files, index.html at the top.
func Page() fs.FS {
	sub, err := fs.Sub(dist, "dist")
	if err != nil { // only an invalid constant above could cause it
		return dist
	}
	return sub
}

// Check says whether the page is built into this binary; its error names the command
// that builds it.
func Check() error { return check(Page()) }

func check(page fs.FS) error {
	for _, name := range []string{"index.html", "app.js"} {
		if info, err := fs.Stat(page, name); err != nil || info.IsDir() {
			return errMissing
		}
	}
	return nil
}
