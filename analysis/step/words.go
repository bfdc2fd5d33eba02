package step

import "fmt"

func watts(w float64) string { return fmt.Sprintf("%.4g W", w) }

func seconds(s float64) string { return fmt.Sprintf("%.3g s", s) }
