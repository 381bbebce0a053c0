package integer

import (
	"bytes"
	"fmt"
)

// LP writes the program in the LP format that most solvers of whole-number programs
// read. Implied rows are left out: they change no solution.
func (p *Program) LP() []byte {
	var b bytes.Buffer
	width := 0
	put := func(format string, args ...any) {
		s := fmt.Sprintf(format, args...)
		if width += len(s); width > 200 {
			b.WriteString("\n ")
			width = len(s)
		}
		b.WriteString(s)
	}
	line := func(s string) {
		b.WriteString(s)
		width = 0
	}
	line("Minimize\n cost:")
	any := false
	for _, c := range p.Cols {
		if c.Cost != 0 {
			put(" %+d %s", c.Cost, c.Name)
			any = true
		}
	}
	if !any && len(p.Cols) > 0 {
		put(" 0 %s", p.Cols[0].Name)
	}
	line("\nSubject To\n")
	if len(p.Rows) == 0 && len(p.Cols) > 0 {
		line(fmt.Sprintf(" none: 0 %s >= 0\n", p.Cols[0].Name)) // a file needs a row
	}
	for i, r := range p.Rows {
		if r.Implied || len(p.Cols) == 0 {
			continue
		}
		write := func(side, sense string, rhs int64) {
			line(fmt.Sprintf(" r%d%s:", i, side))
			for _, t := range r.Terms {
				put(" %+d %s", t.Coef, p.Cols[t.Col].Name)
			}
			if len(r.Terms) == 0 {
				put(" 0 %s", p.Cols[0].Name)
			}
			put(" %s %d", sense, rhs)
			line("\n")
		}
		if r.Lo == r.Hi {
			write("", "=", r.Lo)
			continue
		}
		if r.Lo > -Open {
			write("lo", ">=", r.Lo)
		}
		if r.Hi < Open {
			write("hi", "<=", r.Hi)
		}
	}
	line("Bounds\n")
	for _, c := range p.Cols {
		fmt.Fprintf(&b, " %d <= %s <= %d\n", c.Lo, c.Name, c.Hi)
	}
	line("General\n")
	for _, c := range p.Cols {
		fmt.Fprintf(&b, " %s\n", c.Name)
	}
	line("End\n")
	return b.Bytes()
}
