package shop

import (
	"regexp"
	"strings"
	"unicode/utf8"

	"flitchbook/planner/unit"
)

// Account is a person who signs in.
type Account struct {
	ID           AccountID
	Login        string
	Name         string
	Role         Role
	PasswordHash string // argon2id, with its parameters
	Under18      bool   // may not use, set up or wash saw, slicer or grinder (R45)
	Disabled     bool
	CreatedAt    unit.Instant
}

// TableName of the record.
func (Account) TableName() string { return "accounts" }

// NewAccount is what is asked of a person who shall sign in.
type NewAccount struct {
	Login    string
	Name     string
	Role     Role
	Under18  bool
	Password string
}

var loginWord = regexp.MustCompile(`^[a-z0-9][a-z0-9._-]{1,39}$`)

// Check returns every wrong answer at once.
func (n NewAccount) Check() error {
	var w Wrong
	if !loginWord.MatchString(n.Login) {
		w.Add("login", "A login has 2 to 40 small letters, digits, dots, hyphens or underscores and begins with a letter or digit.")
	}
	if n.Name == "" || utf8.RuneCountInString(n.Name) > 80 {
		w.Add("name", "Give the name the others know this person by, at most 80 characters.")
	}
	switch n.Role {
	case Owner, Staff, Kitchen:
	default:
		w.Add("role", "The role is owner, staff or kitchen, not %q.", string(n.Role))
	}
	w.AddErr("password", CheckNewPassword(n.Login, n.Password))
	return w.Err()
}

// The length of a password in characters. NIST SP 800-63B (2017), 5.1.1.2, asks for
// at least 8 and for taking 64 and more; 12 is the house's own, since one password is
// all that stands before the shop's books.
const (
	PasswordMin = 12
	PasswordMax = 256
)

// CheckNewPassword says what is wrong with a password somebody wants to have. It asks
// for length alone: rules about kinds of characters make weaker passwords (NIST SP
// 800-63B, appendix A).
func CheckNewPassword(login, password string) error {
	switch n := utf8.RuneCountInString(password); {
	case n < PasswordMin:
		return Bad("password", "A password has at least %d characters; a few words in a row are good.", PasswordMin)
	case n > PasswordMax:
		return Bad("password", "A password has at most %d characters.", PasswordMax)
	case login != "" && strings.Trim(strings.ReplaceAll(strings.ToLower(password), login, ""), " ") == "":
		return Bad("password", "The login alone is no password.")
	case strings.Count(password, password[:1]) == len(password):
		return Bad("password", "One character over and over is no password.")
	}
	return nil
}

// History is one change to anything but a slab (slabs have steps). Rows are only
// ever added.
type History struct {
	ID        int64
	Subject   string // "booking", "class", "order", …
	SubjectID int64
	What      string // in a word or two: "booked", "paid", "let go"
	From      string `gorm:"column:from_state"`
	To        string `gorm:"column:to_state"`
	Actor     string
	At        unit.Instant
	Detail    string
}

// TableName of the record.
func (History) TableName() string { return "history" }

// Feed is a secret calendar address.
type Feed struct {
	ID        FeedID
	Kind      string // "staff", "kitchen", "owner", "farm", "customer"
	SubjectID int64  // booking or farm
	LinkNo    int
	TokenHash string
	CreatedAt unit.Instant
	RevokedAt unit.Instant
}

// TableName of the record.
func (Feed) TableName() string { return "feeds" }

// Entry is one calendar entry: one UID for life, Sequence up on each change (R41).
type Entry struct {
	UID       string `gorm:"primaryKey;column:uid"`
	Kind      string // "class", "ready", "balance", "order-by", "decide", "kill", "delivery", "unbag", "smoke", "pack", "dinner", "closed"
	Subject   string // "class", "booking", "order", "load", "day"
	SubjectID int64
	StartsAt  unit.Instant // of a timed entry
	EndsAt    unit.Instant
	Day       unit.Day // of an all-day entry
	Title     string
	Text      string
	Cancelled bool
	Sequence  int
	ChangedAt unit.Instant
}

// TableName of the record.
func (Entry) TableName() string { return "entries" }
