package main

import (
	"crypto/rand"
	"io"
	"os"
	"regexp"
	"runtime"
	"strings"
)

// tokenForm is what stands in a link as it is, and isn't guessed: 26 characters of
// rand.Text are 128 bits.
const tokenForm = `^[A-Za-z0-9._~-]{26,200}$`

// keptToken returns the token that a file holds. An empty file, or none, gets a new one.
func keptToken(file string) (token string, err error) {
	f, err := os.OpenFile(file, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return "", badCall("--token-file %s can't be used: name a file that you may write (%w)", file, err)
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	info, err := f.Stat()
	switch {
	case err != nil:
		return "", err
	case !info.Mode().IsRegular():
		return "", badCall("--token-file %s is no plain file: name one, it is made if it isn't there", file)
	case runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0:
		return "", badCall("--token-file %s may be read or written by others on this computer: chmod 600 %s", file, file)
	case info.Size() == 0:
		token = rand.Text()
		_, err = f.WriteString(token + "\n")
		return token, err
	}
	text, err := io.ReadAll(io.LimitReader(f, 1024))
	if err != nil {
		return "", err
	}
	token = strings.TrimSpace(string(text))
	if !regexp.MustCompile(tokenForm).MatchString(token) {
		return "", badCall("--token-file %s: a token is 26 to 200 letters and digits: empty the file, and a new one is made", file)
	}
	return token, nil
}
