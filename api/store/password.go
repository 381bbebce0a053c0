package store

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"

	"golang.org/x/crypto/argon2"
)

// Passwords are kept as argon2id hashes (RFC 9106) written with their parameters, so
// that the parameters may grow while old hashes still work. 19 MiB, two passes, one
// lane is what the OWASP password storage cheat sheet names as the least. A shop's
// small computer reckons two at once at most: a crowd at the login page must not take
// its memory.
const (
	argonKiB    = 19 * 1024
	argonPasses = 2
	argonLanes  = 1
	saltBytes   = 16
	hashBytes   = 32
)

var phc = base64.RawStdEncoding

// hashPassword returns the hash of a new password.
func (s *Store) hashPassword(ctx context.Context, password string) (string, error) {
	salt := make([]byte, saltBytes)
	rand.Read(salt) // never fails (crypto/rand documents it)
	sum, err := s.argon(ctx, password, salt, argonKiB, argonPasses, argonLanes, hashBytes)
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, argonKiB, argonPasses, argonLanes,
		phc.EncodeToString(salt), phc.EncodeToString(sum)), nil
}

// matches says whether a password belongs to a hash. An empty hash takes as long as a
// real one and never matches, so that the time of an answer does not tell which logins
// there are.
func (s *Store) matches(ctx context.Context, hash, password string) (bool, error) {
	if hash == "" {
		_, err := s.argon(ctx, password, make([]byte, saltBytes), argonKiB, argonPasses, argonLanes, hashBytes)
		return false, err
	}
	parts := strings.Split(hash, "$")
	if len(parts) != 6 || parts[1] != "argon2id" || parts[2] != fmt.Sprintf("v=%d", argon2.Version) {
		return false, fmt.Errorf("a stored password hash is of no kind this program knows")
	}
	var kib, passes uint32
	var lanes uint8
	if _, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &kib, &passes, &lanes); err != nil {
		return false, fmt.Errorf("a stored password hash has unreadable parameters: %w", err)
	}
	salt, err := phc.DecodeString(parts[4])
	if err != nil {
		return false, fmt.Errorf("a stored password hash has an unreadable salt: %w", err)
	}
	want, err := phc.DecodeString(parts[5])
	if err != nil || len(want) < 16 {
		return false, fmt.Errorf("a stored password hash is cut short")
	}
	got, err := s.argon(ctx, password, salt, kib, passes, lanes, uint32(len(want)))
	if err != nil {
		return false, err
	}
	return subtle.ConstantTimeCompare(got, want) == 1, nil
}

func (s *Store) argon(ctx context.Context, password string, salt []byte, kib, passes uint32, lanes uint8, n uint32) ([]byte, error) {
	select {
	case s.hashing <- struct{}{}:
		defer func() { <-s.hashing }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	return argon2.IDKey([]byte(password), salt, passes, kib, lanes, n), nil
}
