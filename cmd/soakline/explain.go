package main

import (
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"errors"

	"soakline/collector/rawfs"
	"soakline/collector/telemetry"
)

// grant is one thing that only root may read by default, and how to give it to a group.
type grant struct {
	what  string
	files func(*rawfs.Tree) []string // those of this machine, relative to the tree
	none  string                     // what to say where there are none
	adds  string
	risk  string
	how   string
	undo  string
}

// grants are what root adds. The udev keys are those of udev(7); the rules name one file
// or device each and give no right to write.
var grants = []grant{
	{
		what:  "Energy counters of the processor (powercap)",
		files: energyFiles,
		none:  "this machine has none, or its kernel module (intel_rapl_msr) is not loaded",
		adds:  "package power, and with it the power limits' effect, the burst's time constant, K/W and headroom",
		risk:  "Fast readings of these counters can leak secrets of other programs (Intel advisory SA-00389, CVE-2020-8694). Do it on a bench machine, not on a shared one.",
		how: `write this to /etc/udev/rules.d/70-soakline-energy.rules and start the machine anew:
ACTION=="add", SUBSYSTEM=="powercap", KERNEL=="intel-rapl:*", RUN+="/bin/chgrp bench /sys%p/energy_uj", RUN+="/bin/chmod g+r /sys%p/energy_uj"`,
		undo: "delete the file and start the machine anew",
	},
	{
		what:  "Registers of the processor (/dev/cpu/N/msr)",
		files: registerFiles,
		none:  "the kernel's msr module is not loaded: as root, modprobe msr (for every start: echo msr > /etc/modules-load.d/msr.conf)",
		adds:  "Intel: the processor's own reasons for holding its clock back, the thermal status and the limits with their windows as the processor has them. AMD: energy, where powercap does not show it",
		risk:  "The kernel also asks for the right cap_sys_rawio to open them. A program that has it could reach the hardware in other ways; soakline opens the registers for reading alone. Give it to this one file, on a bench machine, and take it away afterwards. A new build of soakline loses it.",
		how: `write this to /etc/udev/rules.d/70-soakline-registers.rules and load the msr module anew:
ACTION=="add", SUBSYSTEM=="msr", KERNEL=="msr[0-9]*", GROUP="bench", MODE="0440"
then, for this program alone:
sudo setcap cap_sys_rawio=ep %[1]s`,
		undo: "delete the file, sudo setcap -r %[1]s, and load the module anew",
	},
}

// explain says what root adds on this machine and how to grant only that.
func explain(out io.Writer, tree *rawfs.Tree) error {
	program, err := os.Executable()
	if err != nil {
		program = "/path/to/soakline"
	}
	var b strings.Builder
	b.WriteString("Everything else is read without root. Nothing is changed by this command: what follows is for you to run, if you want it.\n" +
		"A group of its own keeps the right narrow; make it once, put yourself in, and log in again:\n" +
		"sudo groupadd --system --force bench && sudo usermod --append --groups bench \"$USER\"\n")
	for _, g := range grants {
		fmt.Fprintf(&b, "\n%s\n  here: %s\n  adds: %s\n  mind: %s\n", g.what, g.here(tree), g.adds, g.risk)
		fmt.Fprintf(&b, "  grant: %s\n  take back: %s\n", indent(fill(g.how, program)), fill(g.undo, program))
	}
	b.WriteString("\nGraphics units need nothing: their files and devices are open to everyone by default.\n")
	_, err = io.WriteString(out, b.String())
	return err
}

// fill puts the program's own path where a text asks for it.
func fill(text, program string) string { return strings.ReplaceAll(text, "%[1]s", program) }

func indent(text string) string { return strings.ReplaceAll(text, "\n", "\n    ") }

// here says what this machine has and whether it may be read now.
func (g grant) here(tree *rawfs.Tree) string {
	files := g.files(tree)
	if len(files) == 0 {
		return g.none
	}
	open, refused := 0, ""
	for _, name := range files {
		f, err := tree.Open(name)
		switch {
		case err == nil:
			open++
			f.Close()
		case rawfs.StateOf(err) == telemetry.GapDenied || errors.Is(err, fs.ErrPermission):
			refused = tree.Path(name)
		}
	}
	switch {
	case open == len(files):
		return fmt.Sprintf("may be read already (%d files)", open)
	case refused != "":
		return fmt.Sprintf("refused to you: %s and %d of its kind", refused, len(files)-1)
	}
	return fmt.Sprintf("%d of %d files can be opened", open, len(files))
}

func energyFiles(tree *rawfs.Tree) (files []string) {
	const dir = "sys/class/powercap"
	zones, _ := tree.List(dir)
	for _, z := range zones {
		if p := dir + "/" + z + "/energy_uj"; tree.Exists(p) {
			files = append(files, p)
		}
	}
	return files
}

func registerFiles(tree *rawfs.Tree) (files []string) {
	cpus, _ := tree.List("dev/cpu")
	for _, c := range cpus {
		if p := "dev/cpu/" + c + "/msr"; tree.Exists(p) {
			files = append(files, p)
		}
	}
	return files
}
