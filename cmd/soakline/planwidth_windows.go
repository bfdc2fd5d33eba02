package main

import "os"

// columns is how wide a terminal is: not asked for here.
func columns(*os.File) int { return 0 }
