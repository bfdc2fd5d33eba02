package server

import (
	"net/http"
	"net/http/httptest"
	"testing"
)

// A browser that comes too early shows the page as soon as there is one, by itself.
func TestTooEarlyAsksAgain(t *testing.T) {
	w := httptest.NewRecorder()
	(&Front{}).ServeHTTP(w, httptest.NewRequest("GET", "/", nil))
	if w.Code != http.StatusServiceUnavailable || w.Header().Get("Refresh") != "1" || w.Header().Get("Retry-After") != "1" {
		t.Errorf("status %d, headers %v", w.Code, w.Header())
	}
}
