package web

import (
	"strings"
	"testing"
	"testing/fstest"
)

func TestCheckNamesTheCommand(t *testing.T) {
	file := &fstest.MapFile{Data: []byte("x")}
	for name, page := range map[string]fstest.MapFS{
		"placeholder alone": {".keep": file},
		"no script":         {"index.html": file},
	} {
		if err := check(page); err == nil || !strings.Contains(err.Error(), "go generate ./web") {
			t.Errorf("%s: error %v does not name the command", name, err)
		}
	}
	if err := check(fstest.MapFS{"index.html": file, "app.js": file}); err != nil {
		t.Error(err)
	}
}
