// Package mail turns a notice into a message and sends it: over SMTP, or into a folder
// of files. It knows the shop's words, never the database. Texts stand in texts/, one
// for each kind of notice; the HTML part is made from the text, so the two cannot say
// different things. Calendar files are written by mail/calendar, which the pages use
// as well.
//
// What a kind of notice tells is a snapshot (shop.Facts) taken when the fact became
// true. Each text uses what it finds and leaves out what is not given. Money is told to
// payers only: a notice whose subject is a guest has its money taken away before
// the text sees it. Why a jar is away is told to nobody.
package mail

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	netmail "net/mail"
	"strings"
	"time"

	"flitchbook/api/shop"
	"flitchbook/mail/calendar"
	"flitchbook/planner/unit"
)

// House is what every message says of the shop.
type House struct {
	Name    string         // as on the door
	Place   string         // town
	Address string         // street and number, as a stranger needs it
	Phone   string         // "" for none
	Loc     *time.Location // the shop's zone
	Rules   shop.Rules     // open days and hours, days a packet waits
	From    string         // address messages come from
	ReplyTo string         // where answers go; "" means From
	Domain  string         // right-hand side of Message-IDs; must not change once in use
	BaseURL string         // of the shop's pages, without a slash at the end
}

// Where is the address in one line.
func (h House) Where() string {
	parts := []string{}
	for _, s := range []string{h.Name, h.Address, h.Place} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, ", ")
}

// Check says what is missing or malformed, for the person who wrote the settings.
func (h House) Check() error {
	var w shop.Wrong
	if h.Loc == nil {
		w.Add("zone", "The shop's time zone is missing.")
	}
	if h.Name == "" || badLine(h.Name) {
		w.Add("name", "The shop's name is missing or has a line break in it.")
	}
	w.AddErr("from", CheckAddress(h.From))
	if h.ReplyTo != "" {
		w.AddErr("reply_to", CheckAddress(h.ReplyTo))
	}
	if !strings.Contains(h.Domain, ".") || strings.ContainsAny(h.Domain, " @<>\r\n") {
		w.Add("domain", "The mail domain is missing or is not like shop.example.test.")
	}
	return w.Err()
}

// Message is a finished message.
type Message struct {
	ID       string // Message-ID without its brackets, derived from the notice's key
	At       unit.Instant
	From     netmail.Address
	ReplyTo  string
	To       netmail.Address
	Subject  string
	Text     string
	HTML     string
	Calendar []byte // nil, or an invitation
	Method   string // of the invitation: REQUEST or CANCEL
	Zone     *time.Location
}

// Compose writes the message of a notice. It is pure: the same notice gives the same
// message, Message-ID included. An address or a name that could carry a header of its
// own is an error.
func Compose(n shop.Notice, f shop.Facts, h House) (Message, error) {
	var m Message
	if err := h.Check(); err != nil {
		return m, fmt.Errorf("mail: %w", err)
	}
	if err := CheckAddress(n.ToAddr); err != nil {
		return m, fmt.Errorf("mail: %s: %w", n.Key, err)
	}
	if badLine(n.ToName) {
		return m, fmt.Errorf("mail: %s: the name of who it goes to has a line break in it", n.Key)
	}
	subject, text, err := write(n, f, h)
	if err != nil {
		return m, fmt.Errorf("mail: %s: %w", n.Key, err)
	}
	if badLine(subject) {
		return m, fmt.Errorf("mail: %s: the subject has a line break in it", n.Key)
	}
	m = Message{
		ID: messageID(n.Key, h.Domain), At: n.DueAt, Zone: h.Loc,
		From: netmail.Address{Name: h.Name, Address: h.From}, ReplyTo: h.ReplyTo,
		To: netmail.Address{Name: n.ToName, Address: n.ToAddr}, Subject: subject,
	}
	blocks := parse(text, h.BaseURL)
	m.Text = plain(blocks)
	if m.HTML, err = page(subject, blocks, h); err != nil {
		return m, fmt.Errorf("mail: %s: %w", n.Key, err)
	}
	if f.Invite != nil {
		from := h.From
		if f.Invite.Organizer != "" {
			from = f.Invite.Organizer
			if err := CheckAddress(from); err != nil {
				return m, fmt.Errorf("mail: %s: %w", n.Key, err)
			}
		}
		m.Method = calendar.Method(*f.Invite)
		m.Calendar, err = calendar.Invitation(*f.Invite, n.CreatedAt, h.Where(),
			calendar.Person{Name: h.Name, Mail: from}, calendar.Person{Name: n.ToName, Mail: n.ToAddr}, h.Loc)
		if err != nil {
			return m, fmt.Errorf("mail: %s: %w", n.Key, err)
		}
	}
	return m, nil
}

// messageID derives the Message-ID: a notice that is sent twice is shown once.
func messageID(key, domain string) string {
	sum := sha256.Sum256([]byte(key))
	return hex.EncodeToString(sum[:16]) + "@" + domain
}

// CheckAddress accepts a plain address with a dot in its domain and nothing about it:
// no name, comment, group or domain literal, no blanks, ASCII only.
func CheckAddress(addr string) error {
	no := fmt.Errorf("%q is not a mail address we can write to; it should be like name@example.test", addr)
	if len(addr) > 254 || strings.ContainsFunc(addr, func(r rune) bool { return r <= ' ' || r >= 0x7f }) {
		return no
	}
	a, err := netmail.ParseAddress(addr)
	if err != nil || a.Address != addr || a.Name != "" {
		return no
	}
	_, domain, _ := strings.Cut(addr[strings.LastIndexByte(addr, '@'):], "@")
	if dot := strings.IndexByte(domain, '.'); dot < 1 || strings.HasSuffix(domain, ".") || strings.ContainsAny(domain, "[]()") {
		return no
	}
	return nil
}

// badLine says whether a header value holds a line end or another control character.
func badLine(s string) bool {
	return strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f || r == 0x85 || r == 0x2028 || r == 0x2029 })
}
