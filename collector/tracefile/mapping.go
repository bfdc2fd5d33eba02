package tracefile

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
)

// Assignment says how one column of a file is read.
type Assignment struct {
	// From is the column's header as the file writes it, whatever its case, or #N for the
	// column N, counted from 1.
	From string `json:"from"`
	// To is the header it should have had, "package power [W]" for instance; "time [s]" or
	// "time" is the time; "-" leaves the column out.
	To string `json:"to"`
}

// LeftOut is the To of a column that is not read.
const LeftOut = "-"

// signature tells headers apart: two files of one make have the same.
func (r *records) signature() string {
	h := sha256.New()
	h.Write([]byte{r.sep})
	for _, c := range r.cells {
		h.Write(c.text)
		h.Write([]byte{0})
	}
	return hex.EncodeToString(h.Sum(nil))
}

// assign gives the header text of every cell, mapped where the user said so. "" at a cell
// that was not empty means that it is left out.
func (r *records) assign(list []Assignment) ([]string, error) {
	heads := make([]string, len(r.cells))
	for i, c := range r.cells {
		heads[i] = string(c.text)
	}
	for _, a := range list {
		i, err := r.column(a.From)
		if err != nil {
			return nil, err
		}
		heads[i] = a.To
	}
	return heads, nil
}

// column finds the cell that From names.
func (r *records) column(from string) (int, error) {
	if n, err := strconv.Atoi(strings.TrimPrefix(from, "#")); err == nil && strings.HasPrefix(from, "#") && n >= 1 && n <= len(r.cells) {
		return n - 1, nil
	}
	found := -1
	for i, c := range r.cells {
		if !strings.EqualFold(string(c.text), strings.TrimSpace(from)) {
			continue
		}
		if found >= 0 {
			return 0, fmt.Errorf("%s: the mapping of %q fits columns %d and %d: name it by its number, #%d", r.file, from, found+1, i+1, found+1)
		}
		found = i
	}
	if found < 0 {
		return 0, fmt.Errorf("%s: the mapping of %q fits no column; the first are %s", r.file, from, r.firstHeads())
	}
	return found, nil
}

func (r *records) firstHeads() string {
	var names []string
	for _, c := range r.cells[:min(8, len(r.cells))] {
		names = append(names, shown(c.text))
	}
	return strings.Join(names, " ")
}

// ParseAssignment reads "CPU Pkg=package power [W]".
func ParseAssignment(s string) (Assignment, error) {
	from, to, ok := strings.Cut(s, "=")
	a := Assignment{strings.TrimSpace(from), strings.TrimSpace(to)}
	if !ok || a.From == "" || a.To == "" {
		return a, fmt.Errorf(`mapping %q: expected COLUMN=NAME [UNIT], for instance "CPU Pkg=package power [W]", or COLUMN=- to leave it out`, s)
	}
	return a, nil
}
