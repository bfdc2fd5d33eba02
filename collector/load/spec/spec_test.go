package spec

import (
	"strings"
	"testing"
)

func TestParse(t *testing.T) {
	for text, want := range map[string]struct {
		name  string
		cores int
	}{"vector": {"vector", 0}, "vector:all": {"vector", 0}, "integer+memory:4": {"integer+memory", 4}, "floating-point + vector:1": {"floating-point+vector", 1}} {
		l, err := Parse(text)
		if err != nil || l.Name() != want.name || l.Cores != want.cores || l.Share != 1 || l.Check() != nil {
			t.Errorf("%s: %+v, %v", text, l, err)
		}
	}
	for text, says := range map[string]string{"": "not known", "fast": "known are integer, floating-point, vector, memory",
		"vector:": "from 1, or all", "vector:0": "from 1", "vector:-2": "from 1", "vector+": "not known"} {
		if _, err := Parse(text); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v", text, err)
		}
	}
}
