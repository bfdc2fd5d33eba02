// Package checkvalues owns the published and independently computed figures that the
// tests of the analysis are held against, and reads them. Each CSV file names its source
// in the comment lines at its head. It knows nothing of what is tested.
package checkvalues

import (
	"embed"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"
)

//go:embed *.csv
var files embed.FS

// Row is one line of a file by column name.
type Row map[string]string

// Read gives the rows of a file; comment lines (#) are skipped.
func Read(t testing.TB, name string) []Row {
	t.Helper()
	f, err := files.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.FieldsPerRecord, r.LazyQuotes = '#', -1, true
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	head := lines[0]
	rows := make([]Row, 0, len(lines)-1)
	for _, l := range lines[1:] {
		row := Row{}
		for i, cell := range l {
			if i < len(head) {
				row[head[i]] = strings.TrimSpace(cell)
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// Num is the number in a column; NaN where the cell is empty or no number.
func (r Row) Num(column string) float64 {
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		return math.NaN()
	}
	return v
}

// Column gives the numbers of one column of those rows that have value in key.
func Column(rows []Row, key, value, column string) []float64 {
	var out []float64
	for _, r := range rows {
		if key == "" || r[key] == value {
			out = append(out, r.Num(column))
		}
	}
	return out
}
