package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
)

const needNode = "install Node.js 20 or newer with npm, then run `go generate ./web` again"

// installPackages runs npm ci, unless node_modules was filled from this very lock: a
// copy of the lock kept inside node_modules says so.
func installPackages(root string) error {
	lock, err := os.ReadFile(filepath.Join(root, "package-lock.json"))
	if err != nil {
		return err
	}
	mark := filepath.Join(root, "node_modules", ".installed-lock.json")
	if had, err := os.ReadFile(mark); err == nil && bytes.Equal(had, lock) {
		return nil
	}
	if err := run(root, "npm", "ci", "--no-progress"); err != nil {
		return err
	}
	return os.WriteFile(mark, lock, 0o644)
}

func checkTypes(root string) error { return run(root, tool(root, "tsc"), "--noEmit") }

// bundle writes app.js, app.css and the fonts that the styles name into out.
func bundle(root, out string) error {
	target, err := filepath.Abs(out)
	if err != nil {
		return err
	}
	return run(root, tool(root, "esbuild"), "src/app.ts", "--bundle", "--minify", "--format=iife",
		"--target=es2022", "--legal-comments=none", "--loader:.woff2=file", "--asset-names=[name]",
		`--define:process.env.NODE_ENV="production"`, "--log-level=warning", "--outdir="+target)
}

// tool is the path of one of npm's commands inside node_modules.
func tool(root, name string) string {
	abs, err := filepath.Abs(filepath.Join(root, "node_modules", ".bin", name))
	if err != nil {
		return name
	}
	return abs
}

// run starts a command in the web folder and says what to do if it is not there.
func run(root, name string, args ...string) error {
	cmd := exec.Command(name, args...)
	cmd.Dir, cmd.Stdout, cmd.Stderr = root, os.Stdout, os.Stderr
	err := cmd.Run()
	switch {
	case err == nil:
		return nil
	case errors.Is(err, exec.ErrNotFound):
		return fmt.Errorf("%s is not on this machine: %s", filepath.Base(name), needNode)
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("%s is missing from web/node_modules: remove that folder and %s", filepath.Base(name), needNode)
	}
	return fmt.Errorf("%s: %w (needed are Node.js 20 or newer and its npm)", filepath.Base(name), err)
}
