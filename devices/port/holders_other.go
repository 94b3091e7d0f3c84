//go:build !linux

package port

// holders names nobody: this system has no plain list of open files.
func holders(string) string { return "" }

func deniedRemedy(string) string {
	return "ask the owner of this computer for the right to use serial ports"
}
