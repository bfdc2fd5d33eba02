package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// ban says that no package under From may import one under To.
type ban struct{ From, To, Why string }

// bans hold the one-way flow: source, sampler, session, then archive, analysis, server,
// page. Test files are held to them too, but for the packages in testsMay.
var bans = []ban{
	{"collector/quantity", "soakline", "units are the bottom: they know nothing of ours"},
	{"collector/telemetry", "soakline/collector/source", "the shared words know no sensor"},
	{"collector/telemetry", "os", "the shared words do no I/O"},
	{"collector/telemetry", "log/slog", "the shared words do no I/O"},
	{"collector/rawfs", "soakline/analysis", "reading files knows nothing of answers"},
	{"collector", "soakline/analysis", "data flows one way: collecting does not depend on the answers"},
	{"collector", "soakline/server", "data flows one way: collecting does not know who looks"},
	{"collector", "soakline/web", "data flows one way: collecting does not know the page"},
	{"collector/source", "soakline/collector/sampler", "a source is read; it does not know by whom"},
	{"collector/source", "soakline/collector/ring", "a source keeps no history"},
	{"collector/source", "soakline/collector/session", "a source keeps no history"},
	{"collector/source", "soakline/collector/archive", "a source stores nothing"},
	{"collector/sampler", "soakline/collector/source", "the sampler sees the Source interface alone"},
	{"collector/sampler", "soakline/collector/ring", "the sampler sees a sink"},
	{"collector/ring", "soakline/collector/archive", "memory does not know the disk"},
	{"collector/session", "soakline/collector/archive", "a running session does not know who records it"},
	{"collector/plan", "soakline/collector/session", "a plan is told rows; it keeps no recording"},
	{"collector/plan", "soakline/collector/sampler", "a plan is told rows"},
	{"collector/plan", "os", "a plan does no I/O"},
	{"collector/plan", "sync", "a plan is for one goroutine"},
	{"collector/load", "soakline/collector/plan", "a load is told what to do; it knows no plan"},
	{"collector/load", "soakline/collector/session", "a load keeps no recording"},
	{"collector/load", "soakline/collector/source", "a load reads no sensor"},
	{"analysis", "soakline/server", "analysis is pure"},
	{"analysis", "soakline/web", "analysis is pure"},
	{"analysis", "soakline/collector/sampler", "analysis takes columns, not a running machine"},
	{"analysis", "soakline/collector/session", "analysis takes columns, not a running machine"},
	{"analysis", "soakline/collector/ring", "analysis takes columns, not a running machine"},
	{"analysis", "soakline/collector/archive", "analysis does no I/O"},
	{"analysis", "soakline/collector/source", "analysis knows roles, not sensors"},
	{"analysis", "soakline/collector/tracefile", "analysis does no I/O"},
	{"analysis", "soakline/collector/rawfs", "analysis does no I/O"},
	{"analysis", "os", "analysis does no I/O"},
	{"analysis", "net", "analysis does no I/O"},
	{"analysis", "net/http", "analysis does no I/O"},
	{"analysis", "log", "analysis does no I/O"},
	{"analysis", "log/slog", "analysis does no I/O"},
	{"analysis", "time", "analysis has no clock: times are seconds in its input"},
	{"analysis", "sync", "analysis starts no goroutine and shares nothing"},
	{"server", "soakline/collector/source", "the server shows a session, whatever fed it"},
	{"server", "soakline/collector/rawfs", "the server reads no sensor"},
	{"server", "soakline/collector/sampler", "the server shows a session, whatever fed it"},
	{"server", "database/sql", "storage belongs to the archive"},
	{"web", "soakline/collector/source", "the page's package holds assets, no values"},
	{"web", "soakline/server", "the page is served; it does not serve"},
	{"", "C", "the static cross-build must stay possible"},
}

// owners are the only packages that may import a library.
var owners = map[string][]string{
	"github.com/gorilla/websocket":     {"server/hub", "server", "cmd/soakline", "collector/source/relay"},
	"go.bug.st/serial":                 {"collector/source/feed"},
	"github.com/go-echarts/go-echarts": {"web/chart"},
	"github.com/shirou/gopsutil":       {"collector/source/host", "collector/source/machine"},
	"modernc.org/sqlite":               {"collector/archive"},
	"github.com/go-chi/chi":            {"server"},
	"github.com/chromedp":              {"cmd/soakline", "web"},
	"github.com/alecthomas/kong":       {"cmd/soakline"},
	"github.com/goccy/go-yaml":         {"collector/plan"},
	"github.com/parquet-go/parquet-go": {"collector/parquet"},
	"golang.org/x/image":               {"server/picture"},
}

// testsMay lists what test files may import although their package may not: a test
// feeds the analysis with files and with the rig.
var testsMay = map[string][]string{
	"analysis":       {"soakline/collector/tracefile", "soakline/collector/source/rig", "os", "time", "sync", "log", "net"},
	"server":         {"soakline/collector/source/rig", "soakline/collector/sampler"},
	"collector/plan": {"os"},
	"collector":      {"soakline/collector/source/rig", "soakline/collector/source/sourcetest", "soakline/collector/source/replay"},
}

func under(pkg, root string) bool {
	return root == "" || pkg == root || strings.HasPrefix(pkg, root+"/")
}

func TestImports(t *testing.T) {
	root := filepath.Join("..", "..")
	seen := map[string]bool{}
	err := filepath.WalkDir(root, func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, _ := filepath.Rel(root, file)
		rel = filepath.ToSlash(rel)
		if d.IsDir() {
			if rel != "." && (strings.HasPrefix(d.Name(), ".") || d.Name() == "node_modules" || d.Name() == "testdata") {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(rel, ".go") {
			return nil
		}
		pkg := path.Dir(rel)
		seen[pkg] = true
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, spec := range f.Imports {
			imp, _ := strconv.Unquote(spec.Path.Value)
			check(t, rel, pkg, imp)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range bans {
		if b.From == "" {
			continue
		}
		found := false
		for pkg := range seen {
			found = found || under(pkg, b.From)
		}
		if !found {
			t.Errorf("ban on %s: no such package any more; remove or mend the row", b.From)
		}
	}
}

func check(t *testing.T, file, pkg, imp string) {
	t.Helper()
	isTest := strings.HasSuffix(file, "_test.go")
	for _, b := range bans {
		if !under(pkg, b.From) || !under(imp, b.To) || under(imp, "soakline/"+pkg) {
			continue
		}
		if isTest && mayInTest(pkg, imp) {
			continue
		}
		t.Errorf("%s imports %s: %s", file, imp, b.Why)
	}
	for lib, pkgs := range owners {
		if !under(imp, lib) {
			continue
		}
		ok := false
		for _, p := range pkgs {
			ok = ok || under(pkg, p)
		}
		if !ok {
			t.Errorf("%s imports %s: only %v may", file, imp, pkgs)
		}
	}
}

func mayInTest(pkg, imp string) bool {
	for from, list := range testsMay {
		if !under(pkg, from) {
			continue
		}
		for _, l := range list {
			if under(imp, l) {
				return true
			}
		}
	}
	return false
}
