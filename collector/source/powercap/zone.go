package powercap

import (
	"context"
	"strings"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/telemetry"
)

// zone is one power zone as found.
type zone struct {
	dir      string
	control  string // "intel-rapl" or "intel-rapl-mmio"
	path     string // names from the top: "package-0/core"
	title    string // in plain words: "package", "core", "platform"
	index    int    // of the package
	repeated bool   // the same zone is there through another interface already
}

// zones lists all zones, those of the register interface first.
func (s *Source) zones(ctx context.Context) ([]zone, error) {
	entries, err := s.tree.List(dir)
	if err != nil {
		return nil, err
	}
	names := map[string]string{}
	for _, e := range entries {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if strings.Contains(e, ":") {
			names[e] = s.tree.TextOr(dir+"/"+e+"/name", "")
		}
	}
	seen := map[string]bool{}
	var zones []zone
	for _, control := range []string{"intel-rapl", "intel-rapl-mmio", ""} {
		for _, e := range entries {
			family, _, _ := strings.Cut(e, ":")
			if names[e] == "" || (control != "" && family != control) ||
				(control == "" && (family == "intel-rapl" || family == "intel-rapl-mmio")) {
				continue
			}
			z := zone{dir: dir + "/" + e, control: family, path: pathOf(e, names)}
			z.repeated = seen[z.path]
			seen[z.path] = true
			zones = append(zones, z)
		}
	}
	several := 0
	for _, z := range zones {
		if z.isPackage() && !z.repeated {
			several++
		}
	}
	for i := range zones {
		zones[i].name(several > 1)
	}
	return zones, nil
}

// pathOf joins the names of a zone and its parents: intel-rapl:0:1 is package-0/uncore.
func pathOf(entry string, names map[string]string) string {
	parts := strings.Split(entry, ":")
	var path []string
	for n := 2; n <= len(parts); n++ {
		if name := names[strings.Join(parts[:n], ":")]; name != "" {
			path = append(path, name)
		}
	}
	return strings.Join(path, "/")
}

func (z zone) isPackage() bool {
	return strings.HasPrefix(z.path, "package-") && !strings.Contains(z.path, "/")
}

// plain gives the zones' names in words. On client parts uncore is the graphics unit.
var plain = map[string]string{"core": "cores", "uncore": "graphics", "dram": "memory", "psys": "platform"}

// name sets title and index; with several packages the title says which.
func (z *zone) name(several bool) {
	top, child, nested := strings.Cut(z.path, "/")
	if n, ok := strings.CutPrefix(top, "package-"); ok {
		v, _ := rawfs.ParseInt([]byte(strings.SplitN(n, "-", 2)[0]))
		z.index = int(v % 100)
		top = "package"
		if several {
			top += " " + n
		}
	} else if word, ok := plain[top]; ok {
		top = word
	}
	z.title = top
	if nested {
		if word, ok := plain[child]; ok {
			child = word
		}
		z.title = child
		if several {
			z.title = top + " " + child
		}
	}
}

func (z zone) channel(what string, q quantity.Kind) telemetry.Channel {
	title := z.title
	if z.repeated || z.control == "intel-rapl-mmio" {
		title += " (memory-mapped interface)"
	}
	return telemetry.Channel{
		Key: name + "/" + z.control + "/" + z.path + "/" + strings.ReplaceAll(what, " ", "-"), Name: title + " " + what,
		Quantity: q, Source: name, Device: z.control + " " + z.path,
	}
}
