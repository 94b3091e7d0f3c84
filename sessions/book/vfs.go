package book

import "github.com/ncruces/go-sqlite3/vfs"

// unmappedVFS returns the name of the way to the disk that books are opened by.
func unmappedVFS() string {
	const name = "unmapped"
	if vfs.Find(name) == nil {
		vfs.Register(name, unmapped{vfs.Find("").(vfs.VFSFilename)})
	}
	return name
}

// unmapped is the system's VFS without memory mapping. The driver (v0.37.0) asks
// whether a file can be mapped before it knows that its pages carry checksums, and then
// has no mapping to let go of: a checkpoint would panic. What is mapped could not have
// its checksums verified anyway.
type unmapped struct{ vfs.VFSFilename }

func (u unmapped) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	f, got, err := u.VFSFilename.OpenFilename(name, flags)
	if err != nil && flags&vfs.OPEN_WAL != 0 {
		// A log that may not be written can be read, which the driver doesn't try.
		if read, as, e := u.VFSFilename.OpenFilename(name, flags&^(vfs.OPEN_READWRITE|vfs.OPEN_CREATE)|vfs.OPEN_READONLY); e == nil {
			f, got, err = read, as, nil
		}
	}
	if err != nil {
		return nil, got, err
	}
	return unmappedFile{f}, got, nil
}

type unmappedFile struct{ vfs.File }

// SharedMemory is of the index of the write-ahead log; nil for a file without one.
func (f unmappedFile) SharedMemory() vfs.SharedMemory {
	if s, ok := f.File.(vfs.FileSharedMemory); ok {
		return s.SharedMemory()
	}
	return nil
}
