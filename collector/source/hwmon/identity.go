package hwmon

import (
	"path"
	"regexp"
	"strings"

	"soakline/collector/rawfs"
)

var (
	pciAddress = regexp.MustCompile(`^[0-9a-f]{4,}:[0-9a-f]{2}:[0-9a-f]{2}\.[0-7]$`)
	i2cAddress = regexp.MustCompile(`^[0-9]+-([0-9a-f]{4})$`)
	ataPort    = regexp.MustCompile(`^ata[0-9]+$`)
	busInName  = regexp.MustCompile(`[-_][0-9]+[-_]([0-9a-f]{4})$`)
	nvmeName   = regexp.MustCompile(`^nvme[0-9]+$`)
)

// identity names the device at a real path of the tree by what stays the same over
// reboots: its PCI address, an address on a named SMBus adapter, a port of a disk
// controller, a platform or firmware name. Numbers that the kernel hands out in probe
// order (nvme0, i2c-3, ata5) are left out. pci is the path of the PCI device that the
// chip itself is, or "".
func identity(tree *rawfs.Tree, real string) (id, pci string) {
	parts := strings.Split(real, "/")
	at := -1
	for i, p := range parts {
		if pciAddress.MatchString(p) {
			at = i
		}
	}
	parent := ""
	if at >= 0 {
		parent = parts[at]
	}
	rest := parts[at+1:]
	for i := len(rest) - 1; i >= 0; i-- {
		m := i2cAddress.FindStringSubmatch(rest[i])
		if m != nil && i > 0 {
			bus := strings.Join(parts[:at+1+i], "/")
			adapter := slug(tree.TextOr(bus+"/name", rest[i-1]))
			return join(parent, adapter, "i2c-"+m[1]), ""
		}
		if ataPort.MatchString(rest[i]) {
			dir := strings.Join(parts[:at+1+i+1], "/")
			port := tree.TextOr(dir+"/ata_port/"+rest[i]+"/port_no", rest[i])
			return join(parent, "port-"+port), ""
		}
	}
	if at >= 0 && (len(rest) == 0 || nvmeName.MatchString(rest[len(rest)-1])) {
		return parent, strings.Join(parts[:at+1], "/")
	}
	leaf := path.Base(real)
	if real == "" || leaf == "." {
		leaf = "virtual"
	}
	return leaf, ""
}

// steadyName is a driver's name without the number of its bus, which some put into it:
// sbs_0_000b becomes sbs-000b (kernel: drivers/power/supply/sbs-battery.c).
func steadyName(name string) string { return slug(busInName.ReplaceAllString(name, "-$1")) }

func join(parts ...string) string {
	var kept []string
	for _, p := range parts {
		if p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, "/")
}

// slug makes a text fit for a key: lower case, words joined by "-".
func slug(s string) string {
	words := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return !('a' <= r && r <= 'z' || '0' <= r && r <= '9' || r == '.')
	})
	return strings.Join(words, "-")
}
