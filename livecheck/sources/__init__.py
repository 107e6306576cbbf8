"""Where lessons and takes come from: files, devices, ports. Everything that can go wrong out there ends as `Unusable`."""
