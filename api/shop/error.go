package shop

import (
	"errors"
	"fmt"
	"sort"
	"strings"
)

// Kind says what sort of no an Error is. The zero Kind is an internal fault,
// whose text outsiders never read.
type Kind int

// The kinds of no.
const (
	Internal  Kind = iota
	Invalid        // what was asked cannot be read or breaks a rule; Fields may say where
	NotFound       // no such thing, or not for this person
	Conflict       // it was right when asked, but the world has moved on
	Forbidden      // this person may not
	TooMany        // too often; try again later
	Away           // what we need from outside cannot be had now; try again later
)

// Error is a no that a person can read. Code is stable for machines; Text is one
// sentence in the user's words; Fields names every wrong input at once.
type Error struct {
	Kind   Kind
	Code   string
	Text   string
	Fields map[string]string
}

func (e *Error) Error() string {
	if len(e.Fields) == 0 {
		return e.Text
	}
	names := make([]string, 0, len(e.Fields))
	for n := range e.Fields {
		names = append(names, n)
	}
	sort.Strings(names)
	parts := make([]string, 0, len(names))
	for _, n := range names {
		parts = append(parts, n+": "+e.Fields[n])
	}
	return e.Text + " (" + strings.Join(parts, "; ") + ")"
}

// Is compares by code, so that errors.Is(err, ErrClassFull) holds for a copy with
// a more precise text.
func (e *Error) Is(target error) bool {
	t, ok := target.(*Error)
	return ok && t.Code != "" && t.Code == e.Code
}

// Saying returns a copy with another text: same code, this case's facts.
func (e *Error) Saying(format string, args ...any) *Error {
	c := *e
	c.Text = fmt.Sprintf(format, args...)
	return &c
}

// AsError finds the Error in a chain.
func AsError(err error) (*Error, bool) {
	var e *Error
	ok := errors.As(err, &e)
	return e, ok
}

// Bad returns an Invalid error with one sentence.
func Bad(code, format string, args ...any) *Error {
	return &Error{Kind: Invalid, Code: code, Text: fmt.Sprintf(format, args...)}
}

// Stop returns a Conflict error with one sentence.
func Stop(code, format string, args ...any) *Error {
	return &Error{Kind: Conflict, Code: code, Text: fmt.Sprintf(format, args...)}
}

// Missing returns a NotFound error with one sentence.
func Missing(what string) *Error {
	return &Error{Kind: NotFound, Code: "not_found", Text: what + " could not be found."}
}

// Wrong gathers field errors. Its zero value is ready; Err is nil when all is well.
type Wrong struct{ fields map[string]string }

// Add notes that a field is wrong; the first note for a field stands.
func (w *Wrong) Add(field, format string, args ...any) {
	if w.fields == nil {
		w.fields = map[string]string{}
	}
	if _, ok := w.fields[field]; !ok {
		w.fields[field] = fmt.Sprintf(format, args...)
	}
}

// AddErr notes err for a field when it is not nil.
func (w *Wrong) AddErr(field string, err error) {
	if err != nil {
		w.Add(field, "%s", err.Error())
	}
}

// Err returns an Invalid error naming every wrong field, or nil.
func (w *Wrong) Err() error {
	if len(w.fields) == 0 {
		return nil
	}
	return &Error{Kind: Invalid, Code: "invalid", Text: "Please look at the marked answers again.", Fields: w.fields}
}

// Errors that callers branch on.
var (
	ErrClassFull   = &Error{Kind: Conflict, Code: "class_full", Text: "This class is full."}
	ErrClassHeld   = &Error{Kind: Conflict, Code: "class_held", Text: "The last seats are being held for someone."}
	ErrClassClosed = &Error{Kind: Conflict, Code: "class_closed", Text: "This class is not open for booking."}
	ErrStale       = &Error{Kind: Conflict, Code: "stale", Text: "Somebody changed this meanwhile. Here is how it stands now; please do it again."}
	ErrMoved       = &Error{Kind: Conflict, Code: "moved", Text: "A colleague was faster: this has already moved on."}
	ErrOnHold      = &Error{Kind: Conflict, Code: "on_hold", Text: "On hold until a named person decides."}
	ErrSignIn      = &Error{Kind: Forbidden, Code: "sign_in", Text: "Please sign in first."}
	ErrNotAllowed  = &Error{Kind: Forbidden, Code: "not_allowed", Text: "Your account may not do this."}
)
