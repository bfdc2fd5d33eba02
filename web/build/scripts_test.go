package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// The page's own tests, in TypeScript, run in Node.js: decoding the golden frames,
// buckets, numbers. They run here so that "go test ./..." covers them.
func TestPageScripts(t *testing.T) {
	esbuild := tool("..", "esbuild")
	if _, err := os.Stat(esbuild); err != nil {
		need(t, "npm's packages are not installed: run `go generate ./web`")
	}
	node, err := exec.LookPath("node")
	if err != nil {
		need(t, "Node.js is not on this machine")
	}
	files, err := filepath.Glob(filepath.Join("..", "test", "*.test.ts"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no tests found (%v)", err)
	}
	out := t.TempDir()
	args := append([]string{"--bundle", "--platform=node", "--target=node20", "--format=esm", "--out-extension:.js=.mjs",
		"--loader:.bin=binary", "--log-level=warning", "--outdir=" + out}, files...)
	if text, err := exec.Command(esbuild, args...).CombinedOutput(); err != nil {
		t.Fatalf("bundling the tests: %v\n%s", err, text)
	}
	made, err := filepath.Glob(filepath.Join(out, "*.mjs"))
	if err != nil || len(made) != len(files) {
		t.Fatalf("%d of %d tests were bundled (%v)", len(made), len(files), err)
	}
	text, err := exec.Command(node, append([]string{"--test"}, made...)...).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	t.Logf("%s", text)
}
