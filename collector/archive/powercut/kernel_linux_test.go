package powercut

import (
	"bytes"
	"debug/elf"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// kernel is Debian's stock kernel, not installed: its image and the modules that the guest
// loads, in order.
type kernel struct {
	image   string
	modules []string // paths
}

// fetchKernel takes the kernel package that linux-image-amd64 depends on from the system's
// package source, and unpacks what is needed of it.
func fetchKernel(t *testing.T) kernel {
	t.Helper()
	folder := t.TempDir()
	if err := os.Chmod(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("apt-cache", "depends", "linux-image-amd64").Output()
	name := ""
	for _, line := range strings.Split(string(out), "\n") {
		if dep, ok := strings.CutPrefix(strings.TrimSpace(line), "Depends: "); ok && name == "" {
			name = dep
		}
	}
	if err != nil || name == "" {
		t.Fatalf("which kernel linux-image-amd64 stands for: %v %s", err, out)
	}
	download := exec.Command("apt-get", "download", "-qq", name)
	download.Dir = folder
	if out, err := download.CombinedOutput(); err != nil {
		t.Fatalf("apt-get download %s: %v %s", name, err, out)
	}
	packages, _ := filepath.Glob(filepath.Join(folder, "*.deb"))
	if len(packages) != 1 {
		t.Fatalf("%d packages", len(packages))
	}
	unpack := fmt.Sprintf(`dpkg-deb --fsys-tarfile %q | tar -x -C %q --wildcards './boot/vmlinuz*' './lib/modules/*/kernel/drivers/virtio/*' `+
		`'./lib/modules/*/kernel/drivers/block/*' './lib/modules/*/kernel/fs/*' './lib/modules/*/kernel/lib/*' './lib/modules/*/kernel/crypto/*' './lib/modules/*/kernel/arch/*'`,
		packages[0], folder)
	if out, err := exec.Command("sh", "-c", unpack).CombinedOutput(); err != nil {
		t.Fatalf("unpack: %v %s", err, out)
	}
	images, _ := filepath.Glob(filepath.Join(folder, "boot", "vmlinuz*"))
	if len(images) != 1 {
		t.Fatalf("%d kernel images", len(images))
	}
	return kernel{images[0], moduleOrder(t, filepath.Join(folder, "lib", "modules"), "crc32c_generic", "virtio_pci", "virtio_blk", "ext4")}
}

// moduleOrder finds modules and what they need, each after what it needs. The package has
// no list of dependencies yet: they stand in each module's section .modinfo.
func moduleOrder(t *testing.T, root string, names ...string) []string {
	t.Helper()
	at := map[string]string{}
	filepath.WalkDir(root, func(path string, d os.DirEntry, err error) error {
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

func needs(t *testing.T, path string) []string {
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

// firstFiles is the guest: this test's own binary as its first process, and the modules.
func firstFiles(t *testing.T, k kernel) []byte {
	t.Helper()
	binary := filepath.Join(t.TempDir(), "init")
	build := exec.Command("go", "test", "-c", "-ldflags=-s -w", "-o", binary, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux", "GOARCH=amd64")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("build the guest: %v %s", err, out)
	}
	const folder, program, plain = 0o040755, 0o100755, 0o100644
	entries := []entry{{"dev", folder, nil}, {"proc", folder, nil}, {"sys", folder, nil}, {"tmp", folder, nil}, {"modules", folder, nil}}
	read := func(path string) []byte {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	entries = append(entries, entry{"init", program, read(binary)})
	for i, m := range k.modules {
		entries = append(entries, entry{fmt.Sprintf("modules/%03d-%s", i, filepath.Base(m)), plain, read(m)})
	}
	return archiveOf(entries)
}
