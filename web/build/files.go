package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// writeIndex copies the page's one HTML file, and what tells a browser how to install it.
func writeIndex(root, out string) error {
	for _, name := range []string{"index.html", "manifest.webmanifest", "icon.svg"} {
		text, err := os.ReadFile(filepath.Join(root, "src", name))
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(out, name), text, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// shipped lists the licence files of every package of which something ends up in dist.
var shipped = []struct {
	name, folder string
	files        []string
}{
	{"Apache ECharts", "echarts", []string{"LICENSE", "NOTICE"}},
	{"ZRender", "zrender", []string{"LICENSE"}},
	{"tslib", "tslib", []string{"LICENSE.txt"}},
	{"Source Serif 4", "@fontsource-variable/source-serif-4", []string{"LICENSE"}},
	{"Atkinson Hyperlegible Next", "@fontsource-variable/atkinson-hyperlegible-next", []string{"LICENSE"}},
}

// writeLicences gathers the licences and notices of what is shipped in one text.
func writeLicences(root, out string) error {
	var all bytes.Buffer
	for _, p := range shipped {
		for _, file := range p.files {
			text, err := os.ReadFile(filepath.Join(root, "node_modules", filepath.FromSlash(p.folder), file))
			if err != nil {
				return fmt.Errorf("licence of %s: %w", p.name, err)
			}
			fmt.Fprintf(&all, "==== %s: %s ====\n\n%s\n\n", p.name, file, strings.TrimSpace(string(text)))
		}
	}
	return os.WriteFile(filepath.Join(out, "licences.txt"), all.Bytes(), 0o644)
}

// compress puts a .gz beside every text file: over plain HTTP a browser offers no better
// coding than gzip. Fonts are compressed inside.
func compress(_, out string) error {
	entries, err := os.ReadDir(out)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if filepath.Ext(e.Name()) == ".woff2" {
			continue
		}
		if err := compressFile(filepath.Join(out, e.Name())); err != nil {
			return err
		}
	}
	return nil
}

func compressFile(name string) error {
	plain, err := os.ReadFile(name)
	if err != nil {
		return err
	}
	var packed bytes.Buffer
	w, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return err
	}
	if _, err := w.Write(plain); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	return os.WriteFile(name+".gz", packed.Bytes(), 0o644)
}

// publish replaces what dist holds by the files of fresh; the placeholder stays.
func publish(fresh, root string) error {
	dist := filepath.Join(root, "dist")
	if err := os.MkdirAll(dist, 0o755); err != nil {
		return err
	}
	old, err := os.ReadDir(dist)
	if err != nil {
		return err
	}
	made, err := os.ReadDir(fresh)
	if err != nil {
		return err
	}
	keep := map[string]bool{".keep": true}
	for _, e := range made {
		keep[e.Name()] = true
		if err := os.Rename(filepath.Join(fresh, e.Name()), filepath.Join(dist, e.Name())); err != nil {
			return err
		}
	}
	for _, e := range old {
		if !keep[e.Name()] {
			if err := os.RemoveAll(filepath.Join(dist, e.Name())); err != nil {
				return err
			}
		}
	}
	return nil
}
