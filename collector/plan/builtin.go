package plan

import (
	"embed"
	"fmt"
	"io/fs"
	"strings"
)

//go:embed builtin/*.yaml
var builtins embed.FS

// Builtin names the plans that come with the program, each with its text.
type Builtin struct {
	Name string
	Text []byte
}

// Builtins gives the plans that come with the program.
func Builtins() []Builtin {
	files, _ := fs.Glob(builtins, "builtin/*.yaml")
	var out []Builtin
	for _, f := range files {
		text, _ := builtins.ReadFile(f)
		out = append(out, Builtin{strings.TrimSuffix(strings.TrimPrefix(f, "builtin/"), ".yaml"), text})
	}
	return out
}

// Named gives the text of one of them.
func Named(name string) ([]byte, error) {
	var names []string
	for _, b := range Builtins() {
		if b.Name == name {
			return b.Text, nil
		}
		names = append(names, b.Name)
	}
	return nil, fmt.Errorf("there is no plan %q; built in are %s", name, strings.Join(names, ", "))
}
