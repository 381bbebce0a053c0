package calendar

import (
	"bytes"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/emersion/go-ical"
)

// The library writes properties and escapes text. What it leaves to its caller is done
// here, once: folding, line ends inside text, control characters, names in parameters,
// and the zone (zone.go).

// encode writes a calendar with folded lines.
func encode(cal *ical.Calendar) ([]byte, error) {
	var b bytes.Buffer
	if err := ical.NewEncoder(&b).Encode(cal); err != nil {
		return nil, fmt.Errorf("calendar: %w", err)
	}
	return fold(b.Bytes()), nil
}

// lineOctets is the most a line may hold without its line end (RFC 5545, 3.1).
const lineOctets = 75

// fold breaks lines longer than 75 octets, never inside a character.
func fold(in []byte) []byte {
	out := make([]byte, 0, len(in)+len(in)/50)
	for len(in) > 0 {
		line, rest, _ := bytes.Cut(in, []byte("\r\n"))
		in = rest
		room := lineOctets
		for len(line) > room {
			n := room
			for n > 0 && !utf8.RuneStart(line[n]) {
				n--
			}
			if n == 0 { // not UTF-8 at all: clean never lets that through
				n = room
			}
			out = append(out, line[:n]...)
			out = append(out, "\r\n "...)
			line = line[n:]
			room = lineOctets - 1 // the space that marks a continued line counts
		}
		out = append(out, line...)
		out = append(out, "\r\n"...)
	}
	return out
}

// clean makes text fit for a calendar: valid UTF-8, line ends as one "\n", no other
// control character but the tab (RFC 5545, 3.3.11).
func clean(s string) string {
	s = strings.ToValidUTF8(s, "�")
	s = strings.ReplaceAll(s, "\r\n", "\n")
	s = strings.ReplaceAll(s, "\r", "\n")
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			return -1
		}
		return r
	}, s)
}

func setText(p ical.Props, name, s string) { p.SetText(name, clean(s)) }

// person writes an address with its name as a parameter. A parameter can hold neither
// double quotes nor line ends: quotes become apostrophes, a line end is refused, since
// it could only be somebody's attempt to write a property of their own.
func person(prop string, p Person) (*ical.Prop, error) {
	if strings.ContainsAny(p.Name+p.Mail, "\r\n") {
		return nil, fmt.Errorf("calendar: a name or address holds a line end")
	}
	if p.Mail == "" || strings.ContainsFunc(p.Mail, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }) {
		return nil, fmt.Errorf("calendar: %q is no mail address", p.Mail)
	}
	out := ical.NewProp(prop)
	out.Value = "mailto:" + p.Mail
	name := strings.ReplaceAll(strings.ReplaceAll(clean(p.Name), "\t", " "), `"`, "'")
	if name != "" {
		out.Params.Set("CN", name)
	}
	return out, nil
}
