// Command build turns the TypeScript page in web/src into the files of web/dist that
// package web embeds. It owns the order of the steps (packages, type check, bundle,
// compressed copies, licences, stamp) and drives npm's own tools; it must not know what
// the page shows. It is run by "go generate ./web" and is no part of the program.
//
// Everything is built in a temporary folder and moved over at the end, so
// that a failed step leaves the last good page where it was.
package main

import (
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	if err := build("."); err != nil {
		fmt.Fprintln(os.Stderr, "building the page:", err)
		os.Exit(1)
	}
}

// build makes the page of the web folder at root.
func build(root string) error {
	if err := installPackages(root); err != nil {
		return err
	}
	if err := checkTypes(root); err != nil {
		return err
	}
	fresh, err := os.MkdirTemp(filepath.Join(root, "node_modules"), ".page-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(fresh)
	for _, step := range []func(root, out string) error{bundle, writeIndex, writeLicences, compress, writeStamp} {
		if err := step(root, fresh); err != nil {
			return err
		}
	}
	return publish(fresh, root)
}
