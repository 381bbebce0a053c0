package shop

import (
	"net/mail"
	"strings"
	"unicode"
	"unicode/utf8"
)

// plainText notes what is wrong with a line somebody typed: names and notes travel into
// mail headers and calendar files, where a line break would begin a new header.
func plainText(w *Wrong, field, s string, most int) {
	switch {
	case !utf8.ValidString(s):
		w.Add(field, "Some letters could not be read; please type it again.")
	case strings.ContainsFunc(s, func(r rune) bool { return unicode.IsControl(r) || r == '\u2028' || r == '\u2029' }):
		w.Add(field, "Please write it on one line.")
	case utf8.RuneCountInString(s) > most:
		w.Add(field, "Please shorten this to %d letters.", most)
	}
}

// Email says what is wrong with a mail address, or nil. The parser of the standard
// library takes comments, display names and hosts without a dot (RFC 5322 does): the
// address must be just what was typed and its host must have a dot.
func Email(s string) error {
	a, err := mail.ParseAddress(s)
	_, host, _ := strings.Cut(s, "@")
	if err != nil || a.Address != s || a.Name != "" || len(s) > 254 || !strings.Contains(strings.Trim(host, "."), ".") || strings.ContainsAny(host, "[]") {
		return Bad("email", "Please write an address such as name@example.org.")
	}
	return nil
}
