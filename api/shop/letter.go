package shop

import (
	"strings"
	"unicode"
)

// LetterText is a letter as a person wrote it, or left the draft.
type LetterText struct {
	Subject string
	Body    string // paragraphs, an empty line between them
}

// Check returns every wrong answer at once.
func (l LetterText) Check() error {
	var w Wrong
	if strings.TrimSpace(l.Subject) == "" {
		w.Add("subject", "Write what it is about.")
	}
	plainText(&w, "subject", l.Subject, 100)
	switch body := strings.TrimSpace(l.Body); {
	case body == "":
		w.Add("body", "The letter is empty.")
	case len(body) > 4000:
		w.Add("body", "At most 4,000 letters.")
	case strings.ContainsFunc(body, func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' }):
		w.Add("body", "There is a sign in it that no letter can carry.")
	}
	return w.Err()
}

// Paragraphs are the body's paragraphs, each in one line.
func (l LetterText) Paragraphs() []string {
	var out []string
	for _, p := range strings.Split(strings.ReplaceAll(l.Body, "\r\n", "\n"), "\n\n") {
		if p = strings.Join(strings.Fields(p), " "); p != "" {
			out = append(out, p)
		}
	}
	return out
}
