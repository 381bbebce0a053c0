package mail

import (
	"bytes"
	"fmt"
	"sort"
	"strings"

	gomail "github.com/go-mail/mail"
)

// Bytes is the message as it goes over the wire: text, then HTML, then the invitation,
// as alternatives (RFC 2046, 5.1.4: the last is the richest). The same message gives
// the same bytes.
func (m Message) Bytes() ([]byte, error) {
	for _, s := range []string{m.ID, m.From.Name, m.From.Address, m.ReplyTo, m.To.Name, m.To.Address, m.Subject, m.Method} {
		if badLine(s) {
			return nil, fmt.Errorf("mail: a line break in a header: %q", s)
		}
	}
	g := gomail.NewMessage()
	g.SetBoundary("part-" + strings.ReplaceAll(m.ID, "@", "-at-")[:min(37, len(m.ID))])
	g.SetAddressHeader("From", m.From.Address, m.From.Name)
	g.SetAddressHeader("To", m.To.Address, m.To.Name)
	if m.ReplyTo != "" {
		g.SetAddressHeader("Reply-To", m.ReplyTo, m.From.Name)
	}
	g.SetHeader("Subject", m.Subject)
	at := m.At.Time()
	if m.Zone != nil {
		at = m.At.In(m.Zone)
	}
	g.SetDateHeader("Date", at)
	g.SetHeader("Message-ID", "<"+m.ID+">")
	g.SetHeader("Auto-Submitted", "auto-generated") // RFC 3834: holiday replies stay away
	g.SetBody("text/plain", m.Text)
	g.AddAlternative("text/html", m.HTML)
	if m.Calendar != nil {
		g.AddAlternative("text/calendar; method="+m.Method, string(m.Calendar), gomail.SetPartEncoding(gomail.Base64))
	}
	var b bytes.Buffer
	if _, err := g.WriteTo(&b); err != nil {
		return nil, fmt.Errorf("mail: %w", err)
	}
	return sortHeader(b.Bytes()), nil
}

// sortHeader puts the header fields into one order; the library writes them in any.
func sortHeader(b []byte) []byte {
	head, body, ok := bytes.Cut(b, []byte("\r\n\r\n"))
	if !ok {
		return b
	}
	var fields []string
	for _, line := range strings.Split(string(head), "\r\n") {
		if len(fields) > 0 && (strings.HasPrefix(line, " ") || strings.HasPrefix(line, "\t")) {
			fields[len(fields)-1] += "\r\n" + line
			continue
		}
		fields = append(fields, line)
	}
	rank := func(f string) int {
		for i, name := range []string{"Date:", "From:", "Reply-To:", "To:", "Subject:", "Message-ID:"} {
			if strings.HasPrefix(f, name) {
				return i
			}
		}
		return 6
	}
	sort.SliceStable(fields, func(i, j int) bool {
		if ri, rj := rank(fields[i]), rank(fields[j]); ri != rj {
			return ri < rj
		}
		return fields[i] < fields[j]
	})
	return append([]byte(strings.Join(fields, "\r\n")+"\r\n\r\n"), body...)
}
