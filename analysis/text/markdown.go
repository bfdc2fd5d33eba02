package text

import "strings"

// EscapeMarkdown keeps text from being read as Markdown or HTML.
func EscapeMarkdown(text string) string {
	var b strings.Builder
	for _, r := range text {
		switch r {
		case '<':
			b.WriteString("&lt;")
			continue
		case '&':
			b.WriteString("&amp;")
			continue
		case '\\', '`', '*', '_', '[', ']', '|', '#', '~', '>', '!':
			b.WriteByte('\\')
		}
		b.WriteRune(r)
	}
	return b.String()
}
