package hwmon

import (
	"testing"

	"soakline/collector/rawfs/rawfstest"
)

// Devices by their real path, with numbers of probe order in it, and what stays.
func TestIdentity(t *testing.T) {
	m := rawfstest.FromText(t, `made for this test; paths as the kernel lays out its devices
-- sys/devices/pci0000:00/0000:00:1f.4/i2c-7/name --
SMBus I801 adapter at efa0
-- sys/devices/pci0000:00/0000:00:17.0/ata5/ata_port/ata5/port_no --
2
`)
	for _, c := range []struct{ real, id, pci string }{
		{"sys/devices/platform/coretemp.0", "coretemp.0", ""},
		{"sys/devices/platform/nct6775.656", "nct6775.656", ""},
		{"sys/devices/pci0000:00/0000:00:18.3", "0000:00:18.3", "sys/devices/pci0000:00/0000:00:18.3"},
		{"sys/devices/pci0000:00/0000:00:01.1/0000:03:00.0", "0000:03:00.0", "sys/devices/pci0000:00/0000:00:01.1/0000:03:00.0"},
		{"sys/devices/pci0000:00/0000:00:1d.0/0000:01:00.0/nvme/nvme3", "0000:01:00.0", "sys/devices/pci0000:00/0000:00:1d.0/0000:01:00.0"},
		{"sys/devices/pci0000:00/0000:00:1f.4/i2c-7/7-0048", "0000:00:1f.4/smbus-i801-adapter-at-efa0/i2c-0048", ""},
		{"sys/devices/pci0000:00/0000:00:1f.4/i2c-7/7-000b/power_supply/sbs-7-000b", "0000:00:1f.4/smbus-i801-adapter-at-efa0/i2c-000b", ""},
		{"sys/devices/platform/soc/fe804000.i2c/i2c-1/1-004c", "i2c-1/i2c-004c", ""}, // an adapter without a name
		{"sys/devices/pci0000:00/0000:00:17.0/ata5/host4/target4:0:0/4:0:0:0", "0000:00:17.0/port-2", ""},
		{"sys/devices/pci0000:00/0000:00:17.0/ata6/host5/target5:0:0/5:0:0:0", "0000:00:17.0/port-ata6", ""}, // a port without a number
		{"sys/devices/LNXSYSTM:00/LNXSYBUS:00/PNP0A08:00/PNP0C0A:00/power_supply/BAT0", "BAT0", ""},
		{"", "virtual", ""}, // no device behind it
	} {
		if id, pci := identity(m.Tree(), c.real); id != c.id || pci != c.pci {
			t.Errorf("identity(%q) = %q, %q; want %q, %q", c.real, id, pci, c.id, c.pci)
		}
	}
}

func TestNameWithoutBus(t *testing.T) {
	for name, want := range map[string]string{"sbs_7_000b": "sbs-000b", "nct6775": "nct6775", "BAT0": "bat0", "k10temp": "k10temp"} {
		if got := steadyName(name); got != want {
			t.Errorf("%s is called %s, want %s", name, got, want)
		}
	}
}
