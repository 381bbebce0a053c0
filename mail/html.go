package mail

import (
	_ "embed"
	"html/template"
	"regexp"
	"strings"
	"unicode/utf8"
)

// A block is a paragraph, a list, or a link on a line of its own. Texts are written in
// blocks parted by empty lines; "- " begins a list item, "Label: https://…" alone on a
// line is a link, if it leads to the shop's own pages: what somebody typed never
// becomes one.
type block struct {
	Text  string
	Items []string
	Label string // of a link
	URL   string
}

// parse reads a filled text; base is the address of the shop's pages.
func parse(text, base string) []block {
	var out []block
	for _, part := range strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n\n") {
		var para []string
		flush := func() {
			if len(para) > 0 {
				out = append(out, block{Text: strings.Join(para, " ")})
				para = nil
			}
		}
		newList := true
		for _, line := range strings.Split(part, "\n") {
			line = strings.TrimSpace(line)
			label, url, isLink := strings.Cut(line, ": "+base)
			switch {
			case line == "":
			case strings.HasPrefix(line, "- "):
				flush()
				if newList {
					out = append(out, block{})
				}
				last := &out[len(out)-1]
				last.Items = append(last.Items, line[2:])
				newList = false
				continue
			case isLink && base != "" && !strings.ContainsAny(url, " \t"):
				flush()
				out = append(out, block{Label: label, URL: base + url})
			default:
				para = append(para, line)
			}
			newList = true
		}
		flush()
	}
	return out
}

// textWidth is where lines of the plain part are broken.
const textWidth = 74

// plain writes the blocks as text.
func plain(blocks []block) string {
	var b strings.Builder
	for i, bl := range blocks {
		if i > 0 && !(bl.URL != "" && blocks[i-1].URL != "") {
			b.WriteByte('\n')
		}
		switch {
		case bl.URL != "":
			b.WriteString(bl.Label + ":\n" + bl.URL + "\n")
		case bl.Items != nil:
			for _, it := range bl.Items {
				wrap(&b, "- ", "  ", it)
			}
		default:
			wrap(&b, "", "", bl.Text)
		}
	}
	return b.String()
}

// together are words that no line end may part: a date, a temperature, an amount of meat.
var together = regexp.MustCompile(`\b(Mon|Tue|Wed|Thu|Fri|Sat|Sun) [A-Z][a-z][a-z] \d+|\d (°F|lb|g|ppm)\b`)

const glue = "\x01" // stands for a blank inside such words; never in a cleaned text

func wrap(b *strings.Builder, first, rest, text string) {
	text = together.ReplaceAllStringFunc(text, func(s string) string { return strings.ReplaceAll(s, " ", glue) })
	line := first
	empty := true
	for _, w := range strings.Fields(text) {
		w = strings.ReplaceAll(w, glue, " ")
		if !empty && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > textWidth {
			b.WriteString(line + "\n")
			line, empty = rest, true
		}
		if !empty {
			line += " "
		}
		line += w
		empty = false
	}
	b.WriteString(line + "\n")
}

//go:embed texts/page.html
var pageFile string

var pageTemplate = template.Must(template.New("page").Parse(pageFile))

// page writes the blocks as a small page that loads nothing from anywhere.
func page(title string, blocks []block, h House) (string, error) {
	var b strings.Builder
	err := pageTemplate.Execute(&b, struct {
		Title  string
		Blocks []block
		House  House
	}{title, blocks, h})
	return b.String(), err
}
