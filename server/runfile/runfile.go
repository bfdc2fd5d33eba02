// Package runfile owns the note that a running soakline leaves for other commands of the
// same user: where it answers, the token that a change must carry, and which session it
// records. The note lies in the user's runtime folder and only the user may read it.
//
// It must not know what is asked of the running program.
package runfile

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// Note says how to reach a running program.
type Note struct {
	PID     int    `json:"pid"`
	Address string `json:"address"` // host:port on this computer
	Token   string `json:"token"`
	Session string `json:"session"`
}

// Folder is where the notes lie: below XDG_RUNTIME_DIR (XDG Base Directory Specification
// 0.8, which grants that only the user may enter it), else below the user's cache.
func Folder() (string, error) {
	if p := os.Getenv("XDG_RUNTIME_DIR"); filepath.IsAbs(p) {
		return filepath.Join(p, "soakline"), nil
	}
	p, err := os.UserCacheDir()
	return filepath.Join(p, "soakline", "running"), err
}

// Leave writes the note of this process, in place of an earlier one. It appears whole or
// not at all, readable by the user alone. withdraw removes it.
func Leave(folder string, n Note) (withdraw func(), err error) {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return nil, err
	}
	n.PID = os.Getpid()
	text, err := json.Marshal(n)
	if err != nil {
		return nil, err
	}
	f, err := os.CreateTemp(folder, ".note-*") // mode 0600
	if err != nil {
		return nil, err
	}
	_, err = f.Write(text)
	path := filepath.Join(folder, strconv.Itoa(n.PID)+".json")
	if err = errors.Join(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
		return nil, err
	}
	return func() { os.Remove(path) }, nil
}

// List gives the notes of the programs that answer. A note whose address nobody listens
// at is what a crash left: it is removed.
func List(ctx context.Context, folder string) ([]Note, error) {
	files, err := filepath.Glob(filepath.Join(folder, "*.json"))
	if err != nil {
		return nil, err
	}
	var list []Note
	for _, path := range files {
		text, err := os.ReadFile(path)
		var n Note
		if err != nil || json.Unmarshal(text, &n) != nil || n.Address == "" {
			continue
		}
		switch err := n.do(ctx, http.MethodGet, "/healthz", nil, nil); {
		case errors.Is(err, syscall.ECONNREFUSED):
			os.Remove(path)
		case err == nil:
			list = append(list, n)
		}
	}
	return list, nil
}

// Change asks the running program for a change and reads its JSON answer into answer,
// which may be nil.
func (n Note) Change(ctx context.Context, method, path string, body, answer any) error {
	return n.do(ctx, method, path, body, answer)
}

const patience = 5 * time.Second

func (n Note) do(ctx context.Context, method, path string, body, answer any) error {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	text, err := json.Marshal(body)
	if err != nil {
		return err
	}
	r, err := http.NewRequestWithContext(ctx, method, "http://"+n.Address+path, bytes.NewReader(text))
	if err != nil {
		return err
	}
	if method != http.MethodGet {
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("X-Soakline-Token", n.Token)
	}
	client := http.Client{Transport: &http.Transport{DisableKeepAlives: true}} // no proxy: it is this computer
	w, err := client.Do(r)
	if err != nil {
		return err
	}
	defer w.Body.Close()
	got, err := io.ReadAll(io.LimitReader(w.Body, 1<<20))
	if err != nil {
		return err
	}
	if w.StatusCode != http.StatusOK {
		var refusal struct{ Error string }
		if json.Unmarshal(got, &refusal) != nil || refusal.Error == "" {
			refusal.Error = strings.TrimSpace(string(got))
		}
		return fmt.Errorf("the running soakline refuses: %s", refusal.Error)
	}
	if answer == nil {
		return nil
	}
	return json.Unmarshal(got, answer)
}
