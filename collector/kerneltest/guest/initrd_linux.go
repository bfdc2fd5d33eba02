package guest

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// entry is a file of the guest's first file system.
type entry struct {
	name string
	mode int
	data []byte
}

// archiveOf writes entries as an uncompressed cpio archive (newc; the kernel's
// Documentation/driver-api/early-userspace/buffer-format.rst).
func archiveOf(entries []entry) []byte {
	var out bytes.Buffer
	for i, e := range append(entries, entry{name: "TRAILER!!!"}) {
		fmt.Fprintf(&out, "070701%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%s\x00",
			i+1, e.mode, 0, 0, 1, 0, len(e.data), 0, 0, 0, 0, len(e.name)+1, 0, e.name)
		pad(&out)
		out.Write(e.data)
		pad(&out)
	}
	return out.Bytes()
}

func pad(b *bytes.Buffer) {
	for b.Len()%4 != 0 {
		b.WriteByte(0)
	}
}

// Initrd packs the guest's first files and gives the archive's path: the test binary of
// the package in the working directory as the first process, and modules by name, each
// with what it needs. A name may be followed by parameters: "i2c-stub chip_addr=0x48".
func (k Kernel) Initrd(t testing.TB, modules ...string) string {
	t.Helper()
	folder := t.TempDir()
	binary := filepath.Join(folder, "init")
	build := exec.Command("go", "test", "-c", "-ldflags=-s -w", "-o", binary, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux", "GOARCH=amd64")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("build the guest: %v %s", err, out)
	}
	read := func(path string) []byte {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	const directory, program, plain = 0o040755, 0o100755, 0o100644
	var entries []entry
	for _, d := range []string{"dev", "proc", "sys", "tmp", "modules"} {
		entries = append(entries, entry{d, directory, nil})
	}
	entries = append(entries, entry{"init", program, read(binary)})
	var names []string
	parameters := map[string]string{}
	for _, m := range modules {
		name, params, _ := strings.Cut(m, " ")
		names = append(names, name)
		parameters[name+".ko"] = params
	}
	for i, m := range k.modules(t, names...) {
		file := fmt.Sprintf("modules/%03d-%s", i, filepath.Base(m))
		entries = append(entries, entry{file, plain, read(m)})
		if p := parameters[filepath.Base(m)]; p != "" {
			entries = append(entries, entry{file + ".parameters", plain, []byte(p)})
		}
	}
	path := filepath.Join(folder, "initrd")
	if err := os.WriteFile(path, archiveOf(entries), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}
