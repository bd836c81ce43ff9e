"""Looking: footage to the moments at which its picture changes at one blow."""
