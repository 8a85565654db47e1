# Le courtier : ses utilisateurs, ses certificats, ses fichiers.

file-cannot-be-changed-why-nothing-was-changed-to-mend-give-the-command-as-the-user-who-owns-the-settings-or-with-sudo =
    { $file } ne peut pas être modifié : { $why } ; rien n’a été changé. Pour corriger : donner la commande en tant qu’utilisateur à qui les réglages appartiennent, ou avec sudo
file-cannot-be-read-why-to-mend-run-this-as-the-user-who-owns-that-file =
    { $file } ne peut pas être lu : { $why }. Pour corriger : lancer ceci en tant qu’utilisateur à qui ce fichier appartient
file-is-not-there-to-mend-rearing-monitor-broker-setup-on-the-computer-of-the-broker =
    { $file } n’existe pas. Pour corriger : `rearing-monitor broker setup` sur l’ordinateur du courtier
file-there-is-a-user-name-already-nothing-was-changed-to-mend-choose-another-name-or-give-that-board-a-new-card-with-rearing-monitor-board-replace-name =
    { $file } : il y a déjà un utilisateur "{ $name }" ; rien n’a été changé. Pour corriger : choisir un autre nom, ou donner à cette carte une nouvelle fiche avec `rearing-monitor board replace { $name }`
file-was-not-written-by-this-program-and-nothing-was-changed-to-mend-move-it-away-then-rearing-monitor-broker-setup =
    { $file } n’a pas été écrit par ce programme, et rien n’a été changé. Pour corriger : le mettre ailleurs, puis `rearing-monitor broker setup`
file-why-nothing-was-changed-to-mend-put-the-right-file-back-from-a-copy-or-make-a-new-ca-with-rearing-monitor-broker-setup-new-ca-then-every-board-needs-a-new-card =
    { $file } { $why } ; rien n’a été changé. Pour corriger : remettre le bon fichier depuis une copie, ou faire une nouvelle autorité avec `rearing-monitor broker setup --new-ca` ; chaque carte a alors besoin d’une nouvelle fiche
has-expired-on-day = a expiré le { $day }
holds-only-from-day-on = ne vaut qu’à partir du { $day }
is-missing-beside-the-other-half-of-the-farm-s-ca = manque à côté de l’autre moitié de l’autorité de la ferme
is-not-a-certificate = n’est pas un certificat
is-not-a-p-256-key = n’est pas une clé P-256
is-not-a-private-key-without-a-password = n’est pas une clé privée sans mot de passe
is-not-the-key-of-certificate = n’est pas la clé de { $certificate }
name-cannot-be-the-name-of-a-board-allowed-up-to-40-letters-digits-and-without-a-space-such-as-node-07 =
    "{ $name }" ne peut pas être le nom d’une carte ; permis : jusqu’à 40 lettres, chiffres et _ . - sans espace, comme node-07
name-is-a-name-that-the-monitor-needs-itself-allowed-another-such-as-node-07 =
    "{ $name }" est un nom dont le moniteur a besoin lui-même ; permis : un autre, comme node-07
name-is-no-name-or-address-of-a-computer-allowed-such-as-farm-pc-local-or-192-168-1-20 =
    "{ $name }" n’est ni le nom ni l’adresse d’un ordinateur ; permis : comme farm-pc.local ou 192.168.1.20
