package guest

import (
	"bytes"
	"debug/elf"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// modules finds modules and what they need, each after what it needs. The package has no
// list of dependencies yet: they stand in each module's section .modinfo.
func (k Kernel) modules(t testing.TB, names ...string) []string {
	t.Helper()
	at := map[string]string{}
	filepath.WalkDir(k.root, func(path string, d os.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(path, ".ko") {
			at[strings.ReplaceAll(strings.TrimSuffix(d.Name(), ".ko"), "-", "_")] = path
		}
		return nil
	})
	var order []string
	done := map[string]bool{}
	var add func(name string)
	add = func(name string) {
		name = strings.ReplaceAll(name, "-", "_")
		path, ok := at[name]
		if done[name] || !ok { // what is missing is built in
			return
		}
		done[name] = true
		for _, need := range needs(t, path) {
			add(need)
		}
		order = append(order, path)
	}
	for _, n := range names {
		add(n)
	}
	return order
}

func needs(t testing.TB, path string) []string {
	t.Helper()
	f, err := elf.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, err := f.Section(".modinfo").Data()
	if err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, field := range bytes.Split(info, []byte{0}) {
		if deps, ok := strings.CutPrefix(string(field), "depends="); ok && deps != "" {
			list = append(list, strings.Split(deps, ",")...)
		}
		if soft, ok := strings.CutPrefix(string(field), "softdep=pre: "); ok {
			list = append(list, strings.Fields(soft)...)
		}
	}
	return list
}
