package privatepg

import (
	"errors"
	"os"
	"os/user"
	"strconv"
	"syscall"

	"settlemark/internal/problem"
)

// account is the user that runs Postgres. It is never root: Postgres refuses.
type account struct {
	uid, gid uint32
	switched bool // we are root and become this user
}

// chooseAccount: our own user; for root the owner of data that is there
// already, else postgres, else nobody.
func chooseAccount(data string) (account, error) {
	uid := os.Geteuid()
	if uid != 0 {
		return account{uid: uint32(uid), gid: uint32(os.Getegid())}, nil //nolint:gosec // ids are unsigned and 32 bits wide on Linux
	}
	info, err := os.Stat(data)
	switch {
	case err == nil:
		if owner, ok := info.Sys().(*syscall.Stat_t); ok && owner.Uid != 0 {
			return account{uid: owner.Uid, gid: owner.Gid, switched: true}, nil
		}
	case !errors.Is(err, os.ErrNotExist):
		return account{}, err
	}
	for _, name := range []string{"postgres", "nobody"} {
		if u, err := user.Lookup(name); err == nil {
			return accountOf(u)
		}
	}
	return account{}, problem.New(problem.Invalid,
		"Postgres may not run as root, and this machine has neither a user postgres nor a user nobody. Add one, or start Settlemark as an ordinary user.")
}

func accountOf(u *user.User) (account, error) {
	uid, err := strconv.ParseUint(u.Uid, 10, 32)
	if err != nil {
		return account{}, err
	}
	gid, err := strconv.ParseUint(u.Gid, 10, 32)
	return account{uid: uint32(uid), gid: uint32(gid), switched: true}, err
}

func (a account) name() (string, error) {
	u, err := user.LookupId(strconv.FormatUint(uint64(a.uid), 10))
	if err != nil {
		return "", err
	}
	return u.Username, nil
}
