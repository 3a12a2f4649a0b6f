// one file, since the compiler reads the sources once a process and that is what takes the time
import './sql/ownership.js';
import './sql/types.js';
