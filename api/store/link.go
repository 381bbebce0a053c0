package store

import (
	"crypto/hmac"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base32"
	"encoding/hex"
	"fmt"
	"strings"

	"flitchbook/api/shop"
)

// Secret links carry 128 bits derived from the store's secret and a random number
// kept with the record, so the database holds only the hash and yet a later mail can
// carry the link again. Renewing a link draws a new number.

var linkText = base32.NewEncoding("abcdefghijkmnpqrstuvwxyz23456789").WithPadding(base32.NoPadding)

// secretFor returns the secret of a kind of link and its number.
func (s *Store) secretFor(kind string, no int) string {
	m := hmac.New(sha256.New, s.Config.Secret)
	fmt.Fprintf(m, "%s/%d", kind, no)
	return linkText.EncodeToString(m.Sum(nil)[:16])
}

// hashOf is how a secret is stored.
func hashOf(secret string) string {
	h := sha256.Sum256([]byte(strings.ToLower(strings.TrimSpace(secret))))
	return hex.EncodeToString(h[:])
}

// newLink draws a number and returns it with the hash to store.
func (s *Store) newLink(kind string) (no int, hash string) {
	no = int(s.Config.Rand())
	return no, hashOf(s.secretFor(kind, no))
}

// The kinds of links and where their pages are.
var linkPaths = map[string]string{
	"booking": "/b/", "guest": "/g/", "slab": "/s/", "order": "/o/", "feed": "/calendar/",
}

// Link is the full address of a secret page.
func (s *Store) Link(kind string, no int) string {
	l := s.Config.BaseURL + linkPaths[kind] + s.secretFor(kind, no)
	if kind == "feed" {
		l += ".ics"
	}
	return l
}

// BookingLink is the address of a booking's page.
func (s *Store) BookingLink(b *shop.Booking) string { return s.Link("booking", b.LinkNo) }

// BookingSecret is the secret part of that address.
func (s *Store) BookingSecret(b *shop.Booking) string { return s.secretFor("booking", b.LinkNo) }

// SlabLink is the address of a party's My-slab page; it shares the booking's number
// but not its secret, so that a friend who fetches cannot change the booking.
func (s *Store) SlabLink(b *shop.Booking) string { return s.Link("slab", b.LinkNo) }

// slabHash is how a booking keeps the secret of its My-slab page.
func (s *Store) slabHash(no int) string { return hashOf(s.secretFor("slab", no)) }

// TagLink is the address a packet's QR code carries: the slab's page for those who are
// signed in. It is no secret, and tells whoever finds the packet nothing.
func (s *Store) TagLink(tag string) string { return s.Config.BaseURL + tagPath + tag }

const tagPath = "/staff/slabs/"

// ScannedTag is a tag as it is typed, or as either code on a packet gives it.
func ScannedTag(text string) string {
	text = strings.ToUpper(trim(text))
	if _, after, ok := strings.Cut(text, strings.ToUpper(tagPath)); ok {
		return after
	}
	return text
}

// OrderSecret is the secret part of the address that a farm answers at.
func (s *Store) OrderSecret(o *shop.Order) string { return s.secretFor("order", o.LinkNo) }

// sameSecret compares without telling by time how much was right.
func sameSecret(a, b string) bool { return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }
