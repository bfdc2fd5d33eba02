package server

import (
	"net/http"
	"strings"
	"testing"

	"soakline/server/openmetrics"
)

func TestMetrics(t *testing.T) {
	b := newBench(t, Config{})
	w := b.do("GET", "/metrics", "")
	if w.Code != http.StatusOK || w.Header().Get("Content-Type") != openmetrics.ContentType || !strings.HasSuffix(w.Body.String(), "soakline_rows_total 0\n# EOF\n") {
		t.Errorf("before the first row: %d %v\n%s", w.Code, w.Header(), w.Body)
	}
	b.feed(3)
	body := b.do("GET", "/metrics", "").Body.String()
	for _, want := range []string{"soakline_session_time_seconds 0.2\n", "soakline_rows_total 3\n", "# UNIT soakline_power_watts watts\n",
		`channel="die <b>temperature</b>"`, `role="die"`, " 3.125\n", "simulated=\"true\""} {
		if !strings.Contains(body, want) {
			t.Errorf("no %q in\n%s", want, body)
		}
	}
}
