package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// need skips a test that cannot run here, or fails it where NEED_PAGE=1 says that the
// page must have been built.
func need(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("NEED_PAGE") == "1" {
		t.Fatal(why)
	}
	t.Skip(why)
}

func TestBundleIsOfTheseSources(t *testing.T) {
	had, err := os.ReadFile(filepath.Join("..", "dist", stampName))
	if err != nil {
		need(t, "the page is not built: run `go generate ./web`")
	}
	want, err := sourceHash("..")
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.TrimSpace(string(had)); got != want {
		t.Errorf("web/dist was built from other sources: run `go generate ./web`")
	}
}

// The whole page, as it travels, stays under 400 KiB.
func TestCompressedPageStaysSmall(t *testing.T) {
	dist := filepath.Join("..", "dist")
	if _, err := os.Stat(filepath.Join(dist, stampName)); err != nil {
		need(t, "the page is not built: run `go generate ./web`")
	}
	entries, err := os.ReadDir(dist)
	if err != nil {
		t.Fatal(err)
	}
	var total int64
	for _, e := range entries {
		if ext := filepath.Ext(e.Name()); ext != ".gz" && ext != ".woff2" || strings.HasPrefix(e.Name(), "licences") {
			continue
		}
		info, err := e.Info()
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%7d bytes  %s", info.Size(), e.Name())
		total += info.Size()
	}
	t.Logf("%7d bytes  in all", total)
	if total == 0 || total > 400<<10 {
		t.Errorf("the compressed page has %d bytes, wanted are 1 to %d", total, 400<<10)
	}
}

func TestPageAsksNobodyElse(t *testing.T) {
	for _, name := range []string{"index.html", "app.css"} {
		text, err := os.ReadFile(filepath.Join("..", "dist", name))
		if err != nil {
			need(t, "the page is not built: run `go generate ./web`")
		}
		if strings.Contains(string(text), "://") || strings.Contains(string(text), "url(//") {
			t.Errorf("%s names another host", name)
		}
	}
}

func TestSourceHashSeesEveryChange(t *testing.T) {
	root := t.TempDir()
	write := func(name, text string) {
		t.Helper()
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{"package.json", "package-lock.json", "tsconfig.json", "src/app.ts", "build/main.go"} {
		write(name, "one")
	}
	seen := map[string]string{}
	record := func(what string) {
		t.Helper()
		sum, err := sourceHash(root)
		if err != nil {
			t.Fatal(err)
		}
		if before, dup := seen[sum]; dup {
			t.Errorf("%q and %q have the same hash", what, before)
		}
		seen[sum] = what
	}
	record("as made")
	write("src/app.ts", "two")
	record("a source changed")
	write("package-lock.json", "two")
	record("the lock changed")
	write("src/new.ts", "")
	record("a file came")
}

// A step that fails must leave the last good page.
func TestPublishKeepsThePlaceholderAndDropsOldFiles(t *testing.T) {
	root := t.TempDir()
	dist, fresh := filepath.Join(root, "dist"), filepath.Join(root, "fresh")
	for name, text := range map[string]string{"dist/.keep": "", "dist/old.js": "old", "dist/app.js": "old", "fresh/app.js": "new"} {
		path := filepath.Join(root, name)
		os.MkdirAll(filepath.Dir(path), 0o755)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := publish(fresh, root); err != nil {
		t.Fatal(err)
	}
	if got, _ := os.ReadFile(filepath.Join(dist, "app.js")); string(got) != "new" {
		t.Errorf("app.js holds %q", got)
	}
	if _, err := os.Stat(filepath.Join(dist, ".keep")); err != nil {
		t.Error("the placeholder is gone")
	}
	if _, err := os.Stat(filepath.Join(dist, "old.js")); err == nil {
		t.Error("old.js is still there")
	}
}
