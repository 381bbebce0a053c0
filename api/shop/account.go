package shop

import "flitchbook/planner/unit"

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
