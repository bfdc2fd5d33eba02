package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

const stampName = "stamp.txt"

// writeStamp leaves the hash of everything that went into the page beside it.
func writeStamp(root, out string) error {
	sum, err := sourceHash(root)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(out, stampName), []byte(sum+"\n"), 0o644)
}

// sourceHash is the SHA-256 over names and contents of the page's sources, the lock, the
// settings and this builder, in the order of their names.
func sourceHash(root string) (string, error) {
	files := []string{"package.json", "package-lock.json", "tsconfig.json"}
	for _, folder := range []string{"src", "build"} {
		err := filepath.WalkDir(filepath.Join(root, folder), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || strings.HasSuffix(path, "_test.go") {
				return err
			}
			rel, err := filepath.Rel(root, path)
			files = append(files, filepath.ToSlash(rel))
			return err
		})
		if err != nil {
			return "", err
		}
	}
	h := sha256.New()
	for _, name := range files {
		content, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(name)))
		if err != nil {
			return "", err
		}
		fmt.Fprintf(h, "%s %d\n", name, len(content))
		h.Write(content)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
