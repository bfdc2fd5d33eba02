package guest

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// Kernel is Debian's stock kernel, not installed.
type Kernel struct {
	Packed string // the compressed image, bzImage
	Image  string // the same kernel uncompressed, ELF: starts faster and always at the same addresses
	root   string // its modules
}

// Need skips the test unless NEED_QEMU=1 says that all is there.
func Need(t testing.TB) {
	t.Helper()
	if os.Getenv("NEED_QEMU") != "1" || testing.Short() {
		t.Skip("NEED_QEMU=1 runs it: needs qemu-system-x86 and Debian's package source, takes minutes")
	}
	if runtime.GOARCH != "amd64" {
		t.Skip("the guest is built for amd64")
	}
}

// unpacked is what is taken out of the package: all that any test loads.
var unpacked = []string{"./boot/vmlinuz*", "drivers/virtio", "drivers/block", "drivers/hwmon", "drivers/i2c", "drivers/acpi", "drivers/power",
	"drivers/powercap", "drivers/thermal", "drivers/nvme", "drivers/cpufreq", "fs", "lib", "crypto", "arch", "block"}

// Fetch takes the kernel package that linux-image-amd64 depends on from the system's
// package source, and unpacks what is needed of it. It is kept in the user's cache folder
// under the package's name.
func Fetch(t testing.TB) Kernel {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		cache = os.TempDir()
	}
	name := packageName(t)
	home := filepath.Join(cache, "soakline-kerneltest", name)
	if _, err := os.Stat(home); err != nil {
		unpackTo(t, home, name)
	}
	images, _ := filepath.Glob(filepath.Join(home, "boot", "vmlinuz*"))
	if len(images) != 1 {
		t.Fatalf("%d kernel images in %s: remove that folder and try again", len(images), home)
	}
	return Kernel{Packed: images[0], Image: filepath.Join(home, "vmlinux"), root: filepath.Join(home, "lib", "modules")}
}

func packageName(t testing.TB) string {
	out, err := exec.Command("apt-cache", "depends", "linux-image-amd64").Output()
	for line := range strings.SplitSeq(string(out), "\n") {
		if name, ok := strings.CutPrefix(strings.TrimSpace(line), "Depends: "); ok {
			return name
		}
	}
	t.Fatalf("which kernel linux-image-amd64 stands for: %v %s", err, out)
	return ""
}

// unpackTo fills home in one step, so that it is whole or not there.
func unpackTo(t testing.TB, home, name string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(home), 0o755); err != nil {
		t.Fatal(err)
	}
	part, err := os.MkdirTemp(filepath.Dir(home), "part")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(part)
	os.Chmod(part, 0o755)
	download := exec.Command("apt-get", "download", "-qq", name)
	download.Dir = part
	if out, err := download.CombinedOutput(); err != nil {
		t.Fatalf("apt-get download %s: %v %s", name, err, out)
	}
	packages, _ := filepath.Glob(filepath.Join(part, "*.deb"))
	if len(packages) != 1 {
		t.Fatalf("%d packages", len(packages))
	}
	unpack := fmt.Sprintf("dpkg-deb --fsys-tarfile %q | tar -x -C %q --wildcards", packages[0], part)
	for _, p := range unpacked {
		if !strings.HasPrefix(p, ".") {
			p = "./lib/modules/*/kernel/" + p + "/*"
		}
		unpack += " '" + p + "'"
	}
	if out, err := exec.Command("sh", "-c", unpack).CombinedOutput(); err != nil {
		t.Fatalf("unpack: %v %s", err, out)
	}
	os.Remove(packages[0])
	decompress(t, part)
	if err := os.Rename(part, home); err != nil && !os.IsExist(err) {
		if _, there := os.Stat(home); there != nil { // not another test that was quicker
			t.Fatal(err)
		}
	}
}

// decompress cuts the ELF out of the compressed image, where it lies as an xz stream
// (kernel: arch/x86/boot/compressed, CONFIG_KERNEL_XZ as Debian sets it).
func decompress(t testing.TB, folder string) {
	t.Helper()
	images, _ := filepath.Glob(filepath.Join(folder, "boot", "vmlinuz*"))
	if len(images) != 1 {
		t.Fatalf("%d kernel images", len(images))
	}
	packed, err := os.ReadFile(images[0])
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(packed, []byte{0xfd, '7', 'z', 'X', 'Z', 0})
	if at < 0 {
		t.Fatal("the kernel image holds no xz stream")
	}
	out, err := os.Create(filepath.Join(folder, "vmlinux"))
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	xz := exec.Command("xz", "-dc", "--single-stream")
	xz.Stdin, xz.Stdout = bytes.NewReader(packed[at:]), out
	if err := xz.Run(); err != nil {
		t.Fatalf("xz: %v", err)
	}
}
