package gpufs

import (
	"errors"
	"path"
	"slices"
	"strings"
	"time"

	"soakline/collector/quantity"
	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

// intelReason is one file that is 1 while a limiter holds the graphics clock.
type intelReason struct{ file, name, limiter string }

// intelReasons by kernel: drivers/gpu/drm/i915/gt/intel_gt_sysfs_pm.c
// (throttle_reason_NAME) and drivers/gpu/drm/xe/xe_gt_throttle.c (reason_NAME). PL4 is
// the peak limit that protects the supply; RATL the running average thermal limit.
var intelReasons = []intelReason{
	{"pl1", "PL1", "power-long"}, {"pl2", "PL2", "power-short"}, {"pl4", "PL4", "current"},
	{"thermal", "THERMAL", "thermal"}, {"prochot", "PROCHOT", "other"}, {"ratl", "RATL", "thermal"},
	{"vr_thermalert", "VR_THERMALERT", "thermal"}, {"vr_tdc", "VR_TDC", "current"},
}

// engine is one graphics or media part of a unit with a clock of its own.
type engine struct {
	title   string
	clock   string // file, MHz
	reasons string // what the names of its reason files begin with
}

// engines lists the parts: of xe as tileT/gtG below the device, of i915 as gt/gtG below
// the card, before Linux 5.18 one for the whole card.
func (s *Source) engines(u unit) []engine {
	var all []engine
	tiles, _ := s.tree.List(u.device)
	for _, t := range tiles {
		if !strings.HasPrefix(t, "tile") {
			continue
		}
		parts, _ := s.tree.List(path.Join(u.device, t))
		for _, g := range parts {
			dir := path.Join(u.device, t, g, "freq0")
			if strings.HasPrefix(g, "gt") && s.tree.Exists(dir+"/act_freq") {
				all = append(all, engine{g, dir + "/act_freq", dir + "/throttle/reason_"})
			}
		}
	}
	parts, _ := s.tree.List(u.dir + "/gt")
	for _, g := range parts {
		dir := path.Join(u.dir, "gt", g)
		if s.tree.Exists(dir + "/rps_act_freq_mhz") {
			all = append(all, engine{g, dir + "/rps_act_freq_mhz", dir + "/throttle_reason_"})
		}
	}
	if old := u.dir + "/gt_act_freq_mhz"; len(all) == 0 && s.tree.Exists(old) {
		all = append(all, engine{"gt0", old, ""})
	}
	return all
}

// intelReader reads a unit's clocks, then its reason masks, then its powers.
type intelReader struct {
	status  *rawfs.File
	now     func() time.Duration
	clocks  []gauge.Attr
	reasons [][]*rawfs.File // by engine and intelReasons; nil: no such file
	energy  []gauge.Attr    // J
	power   []gauge.Difference
}

// openIntel adds an Intel unit. Which files there are is seen from the directory alone.
func (s *Source) openIntel(inv *telemetry.Inventory, u unit) {
	r := &intelReader{status: s.status(u), now: s.now}
	var clocks, reasons, powers []telemetry.Channel
	engines := s.engines(u)
	for _, e := range engines {
		title := ""
		if len(engines) > 1 {
			title = e.title + " "
		}
		f, err := s.tree.Open(e.clock)
		if err != nil {
			inv.Missing = append(inv.Missing, missing(u, title+"clock", err))
			continue
		}
		r.clocks = append(r.clocks, gauge.Attr{File: f, Max: 10000})
		clocks = append(clocks, u.channel(title+"clock", quantity.Frequency))
		if files := s.reasonFiles(e); files != nil {
			r.reasons = append(r.reasons, files)
			c := u.channel(title+"reasons", quantity.Bits)
			for i, b := range intelReasons {
				c.Bits = append(c.Bits, telemetry.ReasonBit{Mask: 1 << i, Name: b.name, Limiter: b.limiter})
			}
			reasons = append(reasons, c)
		}
	}
	powers = s.energyCounters(inv, u, r)
	chs := append(append(clocks, reasons...), powers...)
	if len(chs) == 0 {
		r.Close()
		return
	}
	inv.Groups = append(inv.Groups, telemetry.Group{Name: u.title, Every: every, Slow: true, Reader: r, Channels: chs})
}

func (s *Source) reasonFiles(e engine) []*rawfs.File {
	if e.reasons == "" {
		return nil
	}
	files, any := make([]*rawfs.File, len(intelReasons)), false
	for i, reason := range intelReasons {
		if f, err := s.tree.Open(e.reasons + reason.file); err == nil {
			files[i], any = f, true
		}
	}
	if !any {
		return nil
	}
	return files
}

// energyCounters opens the energy counters of a card of its own (i915 and xe hwmon); a
// unit inside the processor has none, its energy is a zone of powercap.
func (s *Source) energyCounters(inv *telemetry.Inventory, u unit, r *intelReader) []telemetry.Channel {
	var chs []telemetry.Channel
	chips, _ := s.tree.List(u.device + "/hwmon")
	for _, chip := range chips {
		dir := path.Join(u.device, "hwmon", chip)
		files, _ := s.tree.List(dir)
		for _, file := range files {
			n, ok := strings.CutSuffix(file, "_input")
			if !ok || !strings.HasPrefix(n, "energy") {
				continue
			}
			what := "power"
			if slices.Contains(files, "energy2_input") { // xe: 1 is the card, 2 the package
				what = map[string]string{"energy1": "card power", "energy2": "package power"}[n]
			}
			if what == "" {
				continue
			}
			f, err := s.tree.Open(path.Join(dir, file))
			if err != nil {
				inv.Missing = append(inv.Missing, missing(u, what, err))
				continue
			}
			r.energy = append(r.energy, gauge.Attr{File: f, Scale: 1e-6, Max: 1e15})
			r.power = append(r.power, gauge.Difference{})
			chs = append(chs, u.channel(what, quantity.Power))
		}
	}
	return chs
}

// Read implements telemetry.Reader.
func (r *intelReader) Read(_ time.Duration, out []telemetry.Reading) {
	if !awake(r.status) {
		for i := range out {
			out[i] = gauge.Gap(telemetry.GapAsleep)
		}
		clear(r.power)
		return
	}
	n := 0
	for i := range r.clocks {
		out[n] = r.clocks[i].Read()
		n++
	}
	for _, files := range r.reasons {
		out[n] = mask(files)
		n++
	}
	for i := range r.energy {
		before := r.now()
		e := r.energy[i].Read()
		now := before + (r.now()-before)/2
		out[n] = e
		if e.State == telemetry.Fresh {
			out[n] = r.power[i].Step(e.Value, now, 2000)
		}
		n++
	}
}

// mask makes a reason mask of one flag a file; a flag that cannot be read spoils it.
func mask(files []*rawfs.File) telemetry.Reading {
	bits := 0
	for i, f := range files {
		if f == nil {
			continue
		}
		v, state := f.ReadInt()
		if state != telemetry.Fresh {
			return gauge.Gap(state)
		}
		if v != 0 {
			bits |= 1 << i
		}
	}
	return telemetry.Reading{Value: float64(bits), State: telemetry.Fresh}
}

// Close implements telemetry.Reader.
func (r *intelReader) Close() error {
	errs := []error{r.status.Close()}
	for _, a := range append(r.clocks, r.energy...) {
		errs = append(errs, a.File.Close())
	}
	for _, files := range r.reasons {
		for _, f := range files {
			errs = append(errs, f.Close())
		}
	}
	return errors.Join(errs...)
}
