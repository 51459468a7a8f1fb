package auth

import (
	"math"
	"time"
)

// AccountWaits says how long an account must wait after the nth wrong password
// in a row: nothing for the first four, then 1, 2, 4 … 60 s. It slows guessing
// down and never locks a person out.
var AccountWaits = []time.Duration{
	0, 0, 0, 0, time.Second, 2 * time.Second, 4 * time.Second, 8 * time.Second, 16 * time.Second, 32 * time.Second, time.Minute,
}

// ForgetAccount is after how long the count of wrong passwords starts afresh.
const ForgetAccount = 24 * time.Hour

// AddressTries is how often one address may try in an AddressWindow.
const (
	AddressTries  = 20
	AddressWindow = time.Minute
)

// WrongProofs is how many wrong proofs in a row, asked for by a signature, end
// the session.
const WrongProofs = 5

// Seconds rounds a wait up to whole seconds for a sentence.
func Seconds(wait time.Duration) int { return max(1, int(math.Ceil(wait.Seconds()))) }
