UPDATE placement SET document = ? WHERE number = ?
