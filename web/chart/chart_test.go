package chart

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func lanes() map[string]Lane {
	return map[string]Lane{
		"power": {Unit: "W", FromZero: true, Series: []Series{
			{"c0", "package power", Measured}, {"c4", "graphics power", Companion},
			{"average", "running average", Average}, {"limit0", "long-term limit", Limit}}},
		"temperature": {Unit: "°C", Series: []Series{
			{"c1", "die temperature", Measured}, {"c2", "room air", Reference}, {"limit0", "your limit", Limit}}},
		"clock": {Unit: "MHz", FromZero: true, TimeLabels: true, Series: []Series{{"c3", "core clock", Measured}}},
	}
}

// A mismatch leaves a .got file beside the golden one; who finds it right renames it.
func TestGoldenOptions(t *testing.T) {
	for name, lane := range lanes() {
		raw, err := Option(lane)
		if err != nil {
			t.Fatal(err)
		}
		var got bytes.Buffer
		if err := json.Indent(&got, raw, "", " "); err != nil {
			t.Fatal(err)
		}
		got.WriteByte('\n')
		path := filepath.Join("testdata", name+".json")
		want, err := os.ReadFile(path)
		if err != nil || !bytes.Equal(got.Bytes(), want) {
			os.WriteFile(path+".got", got.Bytes(), 0o644)
			t.Errorf("%s differs from what is in %s.got (%v)", path, path, err)
		}
	}
}

// Names from sensors and files cannot leave a script element nor become code, in which
// ever way the JSON is put on a page. (OWASP Cross Site Scripting Prevention Cheat
// Sheet, "Output Encoding for JavaScript Contexts": < and > must not appear as such.)
func TestHostileNamesStayText(t *testing.T) {
	for _, name := range []string{
		`</script><script>alert(1)</script>`, `__f__function(){alert(1)}__f__`, `<!--`, "\u2028", `"},{"x":"`,
	} {
		raw, err := Option(Lane{Series: []Series{{ID: "c0", Name: name}}})
		if err != nil {
			t.Fatal(err)
		}
		if bytes.ContainsAny(raw, "<>\u2028") {
			t.Errorf("%q leaves as %s", name, raw)
		}
		var back struct {
			Series []struct{ ID, Name string }
		}
		if err := json.Unmarshal(raw, &back); err != nil || len(back.Series) != 1 || back.Series[0].Name != name {
			t.Errorf("%q comes back as %+v, %v", name, back, err)
		}
	}
}

// The page asks for these; the library can only be made to say them by the visitor.
func TestWhatTheLibraryLacks(t *testing.T) {
	raw, err := Option(lanes()["power"])
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"silent":true`, `"emphasis":{"disabled":true}`, `"confine":true`, `"animation":false`, `"data":[]`} {
		if !strings.Contains(string(raw), want) {
			t.Errorf("%s lacks %s", raw, want)
		}
	}
}
