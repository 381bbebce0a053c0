package shop

import (
	"strings"
	"unicode"
	"unicode/utf8"
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
	case unmailable(body):
		w.Add("body", "There is a sign in it that no letter can carry.")
	}
	return w.Err()
}

// A ReplyText is an answer to somebody's question, as staff send it.
type ReplyText struct{ To, Name, Subject, Body string }

// Check returns everything that keeps it from being sent.
func (r ReplyText) Check() error {
	var w Wrong
	w.AddErr("to", Email(r.To))
	plainText(&w, "name", r.Name, 80)
	if r.Subject == "" {
		w.Add("subject", "Write a subject of one line.")
	}
	plainText(&w, "subject", r.Subject, 200)
	switch {
	case r.Body == "" || utf8.RuneCountInString(r.Body) > 5000:
		w.Add("body", "Write the answer, at most 5000 letters.")
	case !utf8.ValidString(r.Body) || unmailable(r.Body):
		w.Add("body", "There is a sign in it that no letter can carry.")
	}
	return w.Err()
}

// unmailable text holds a control sign other than the ends of lines and the tabulator.
func unmailable(s string) bool {
	return strings.ContainsFunc(s, func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' })
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
