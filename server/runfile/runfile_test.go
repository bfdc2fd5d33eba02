package runfile

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// TestNote: only the user may read it, another program finds it and is let in by its
// token; after the end, or a crash, it is gone.
func TestNote(t *testing.T) {
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/api/marks" && r.Header.Get("X-Soakline-Token") != "secret" {
			w.WriteHeader(http.StatusForbidden)
			w.Write([]byte(`{"error":"the token is wrong"}`))
			return
		}
		json.NewEncoder(w).Encode(map[string]int{"id": 7})
	}))
	defer srv.Close()
	folder, ctx := filepath.Join(t.TempDir(), "run"), context.Background()
	address := strings.TrimPrefix(srv.URL, "http://")
	withdraw, err := Leave(folder, Note{Address: address, Token: "secret", Session: "s"})
	if err != nil {
		t.Fatal(err)
	}
	files, _ := filepath.Glob(filepath.Join(folder, "*"))
	if info, err := os.Stat(files[0]); len(files) != 1 || err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v, %v", files, info.Mode(), err)
	}
	list, err := List(ctx, folder)
	if err != nil || len(list) != 1 || list[0].Session != "s" || list[0].PID != os.Getpid() {
		t.Fatalf("%+v, %v", list, err)
	}
	var got struct{ ID int }
	if err := list[0].Change(ctx, "POST", "/api/marks", map[string]string{"text": "x"}, &got); err != nil || got.ID != 7 {
		t.Errorf("%+v, %v", got, err)
	}
	list[0].Token = "other"
	if err := list[0].Change(ctx, "POST", "/api/marks", nil, nil); err == nil || !strings.Contains(err.Error(), "the token is wrong") {
		t.Errorf("%v", err)
	}
	withdraw()
	if list, _ := List(ctx, folder); len(list) != 0 {
		t.Errorf("%+v after the end", list)
	}
	if _, err := Leave(folder, Note{Address: address}); err != nil {
		t.Fatal(err)
	}
	srv.Close() // a crash
	if list, _ := List(ctx, folder); len(list) != 0 {
		t.Errorf("%+v after a crash", list)
	}
	if left, _ := filepath.Glob(filepath.Join(folder, "*")); len(left) != 0 && runtime.GOOS != "windows" {
		t.Errorf("a crash left %v", left)
	}
}
