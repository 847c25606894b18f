#!/usr/bin/env node
import '../.build/daemon/cli/main.js';
