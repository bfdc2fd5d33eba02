package gpufs

import (
	"encoding/binary"
	"fmt"
	"strconv"
	"strings"
)

// version is a table's format and content revision, from its header.
type version struct{ format, content uint8 }

func (v version) String() string { return fmt.Sprintf("%d.%d", v.format, v.content) }

// place is where a field lies in a table.
type place struct{ offset, width int }

// layout is one version of the table.
type layout struct {
	size   int
	fields map[string]place
}

// Pieces of the structures gpu_metrics_vX_Y of kgd_pp_interface.h: names with their
// width in bits, and [n] for arrays, of which field[0] is the first.
const (
	temperatures1 = "edge:16 hotspot:16 mem:16 vrgfx:16 vrsoc:16 vrmem:16 "
	activity1     = "gfx_activity:16 umc_activity:16 mm_activity:16 "
	clocks1       = "avg_gfxclk:16 avg_socclk:16 avg_uclk:16 avg_vclk0:16 avg_dclk0:16 avg_vclk1:16 avg_dclk1:16 " +
		"gfxclk:16 socclk:16 uclk:16 vclk0:16 dclk0:16 vclk1:16 dclk1:16 throttle:32 fan:16 "
	head1 = "header:32 " + temperatures1 + activity1 + "socket_power:16 energy:64 clock:64 " + clocks1
	v11   = head1 + "link_width:16 link_speed:16 pad:16 gfx_acc:32 mem_acc:32 hbm:16[4] "
	v12   = v11 + "firmware_time:64 "
	v13   = v12 + "soc_mv:16 gfx_mv:16 mem_mv:16 pad1:16 indep_throttle:64 "

	temperatures2 = "gfx_temp:16 soc_temp:16 core_temp:16[8] l3_temp:16[2] "
	activity2     = "gfx_activity:16 mm_activity:16 "
	rest2         = "socket_power:16 cpu_power:16 soc_power:16 gfx_power:16 core_power:16[8] " +
		"avg_gfxclk:16 avg_socclk:16 avg_uclk:16 avg_fclk:16 avg_vclk:16 avg_dclk:16 " +
		"gfxclk:16 socclk:16 uclk:16 fclk:16 vclk:16 dclk:16 coreclk:16[8] l3clk:16[2] throttle:32 fan_pwm:16 "
	v21 = "header:32 " + temperatures2 + activity2 + "clock:64 " + rest2 + "pad:16[3] "
	v22 = v21 + "indep_throttle:64 "
	v23 = v22 + "avg_gfx_temp:16 avg_soc_temp:16 avg_core_temp:16[8] avg_l3_temp:16[2] "
	v24 = v23 + "cpu_mv:16 soc_mv:16 gfx_mv:16 cpu_ma:16 soc_ma:16 gfx_ma:16 "

	v30 = "header:32 gfx_temp:16 soc_temp:16 core_temp:16[16] skin_temp:16 gfx_activity:16 vcn_activity:16 ipu_activity:16[8] " +
		"core_c0:16[16] dram_reads:16 dram_writes:16 ipu_reads:16 ipu_writes:16 clock:64 " +
		"socket_power:32 ipu_power:16 apu_power:32 gfx_power:32 dgpu_power:32 all_core_power:32 core_power:16[16] sys_power:16 " +
		"stapm_limit:16 current_stapm_limit:16 avg_gfxclk:16 avg_socclk:16 avg_vpeclk:16 avg_ipuclk:16 avg_fclk:16 avg_vclk:16 " +
		"avg_uclk:16 avg_mpipu:16 coreclk:16[16] core_maxfreq:16 gfx_maxfreq:16 " +
		"res_prochot:32 res_spl:32 res_fppt:32 res_sppt:32 res_thm_core:32 res_thm_gfx:32 res_thm_soc:32 alpha:32 "
)

// layouts are the versions that are read. 1.4 and above describe machines of many dies
// and are not.
var layouts = map[version]layout{
	{1, 0}: parse("header:32 clock:64 " + temperatures1 + activity1 + "socket_power:16 energy:32 " + clocks1 + "link_width:8 link_speed:8 "),
	{1, 1}: parse(v11), {1, 2}: parse(v12), {1, 3}: parse(v13),
	{2, 0}: parse("header:32 clock:64 " + temperatures2 + activity2 + rest2 + "pad:16 "),
	{2, 1}: parse(v21), {2, 2}: parse(v22), {2, 3}: parse(v23), {2, 4}: parse(v24),
	{3, 0}: parse(v30),
}

// parse lays fields out as a C compiler does on a 64-bit system: each at a multiple of
// its width, the whole padded to a multiple of the widest (System V ABI, 3.1.2).
func parse(text string) layout {
	l := layout{fields: map[string]place{}}
	widest := 1
	for _, word := range strings.Fields(text) {
		field, size, _ := strings.Cut(word, ":")
		size, count, _ := strings.Cut(strings.TrimSuffix(size, "]"), "[")
		bits, _ := strconv.Atoi(size)
		n, err := strconv.Atoi(count)
		if err != nil {
			n = 1
		}
		width := bits / 8
		widest = max(widest, width)
		l.size = align(l.size, width)
		l.fields[field] = place{l.size, width}
		for i := range n {
			l.fields[fmt.Sprintf("%s[%d]", field, i)] = place{l.size + i*width, width}
		}
		l.size += n * width
	}
	l.size = align(l.size, widest)
	return l
}

func align(n, to int) int { return (n + to - 1) / to * to }

// header reads a table's size and version: u16 size, u8 format, u8 content.
func header(b []byte) (size int, v version, ok bool) {
	if len(b) < 4 {
		return 0, version{}, false
	}
	return int(binary.LittleEndian.Uint16(b)), version{b[2], b[3]}, true
}

// value reads a field; ok is false for all ones, by which a table says that the unit does
// not report it.
func (p place) value(b []byte) (v uint64, ok bool) {
	switch p.width {
	case 2:
		v = uint64(binary.LittleEndian.Uint16(b[p.offset:]))
		return v, v != 0xffff
	case 4:
		v = uint64(binary.LittleEndian.Uint32(b[p.offset:]))
		return v, v != 0xffffffff
	case 8:
		v = binary.LittleEndian.Uint64(b[p.offset:])
		return v, v != ^uint64(0)
	}
	return 0, false
}
