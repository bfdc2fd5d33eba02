package main

import (
	"context"
	"os"
	"testing"
)

// asProgram makes the test binary be soakline itself, for tests that need another process.
const asProgram = "SOAKLINE_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		os.Exit(run(context.Background(), os.Args[1:], os.Stdout, os.Stderr))
	}
	folder, err := os.MkdirTemp("", "soakline-run-")
	if err != nil {
		panic(err)
	}
	os.Setenv("XDG_RUNTIME_DIR", folder) // notes of running programs stay out of the user's own
	code := m.Run()
	os.RemoveAll(folder)
	os.Exit(code)
}
