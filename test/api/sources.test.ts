// one file, since the compiler reads the sources once a process and that is what takes the time
import './sources/ownership.js';
import './sources/sentences.js';
import './sources/types.js';
