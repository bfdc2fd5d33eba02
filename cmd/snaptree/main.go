// Command snaptree copies this machine's sensor files into one text archive, a tree for
// tests: go run ./cmd/snaptree > testdata/trees/NAME.txtar
//
// It reads only, and only files that the sources read, so that no flag is cleared and no
// sleeping device wakes: what a device that sleeps would say is left out. Serial numbers
// and the host's name stay out. Look the archive over before you share it, and add to
// its first lines which machine it is.
package main

import (
	"flag"
	"fmt"
	"io"
	"os"

	"golang.org/x/tools/txtar"

	"soakline/collector/rawfs"
)

func main() {
	if err := run(os.Args[1:], os.Stdout, os.Stderr); err != nil {
		fmt.Fprintln(os.Stderr, "snaptree:", err)
		os.Exit(2)
	}
}

func run(args []string, out, errOut io.Writer) error {
	flags := flag.NewFlagSet("snaptree", flag.ContinueOnError)
	flags.SetOutput(errOut)
	root := flags.String("root", "/", "directory under which sys and proc lie")
	if err := flags.Parse(args); err != nil {
		return err
	}
	if !rawfs.Supported {
		return fmt.Errorf("sensor files are read on Linux only")
	}
	s := newSnap(rawfs.At(*root))
	s.all()
	_, err := out.Write(txtar.Format(&s.archive))
	return err
}
